import assert from "node:assert/strict";
import test from "node:test";
import { missing } from "../../../../../daq/page/static/asking.js";

const both = { reason: true, by: true };

test("a reason and a name are needed where they are asked for, and blanks are none", () => {
  assert.match(missing(both, { reason: " \n", by: "B. Lund" }), /reason is needed/);
  assert.match(missing(both, { reason: "it was dirty", by: " " }), /name is needed/);
  assert.equal(missing(both, { reason: "it was dirty", by: "B. Lund" }), "");
  assert.equal(missing({}, {}), "");
});

test("only what is on the list can be chosen", () => {
  const needs = { target: ["injector 1", "injector 2"] };
  assert.equal(missing(needs, { target: "injector 2" }), "");
  assert.match(missing(needs, { target: "injector 9" }), /Choose one/);
});
