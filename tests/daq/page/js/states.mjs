/** The states that the bench sends, as Python made them for this run: the wrapper names the file. */
import { readFileSync } from "node:fs";

const file = process.env.RESTPOINT_STATES;
if (!file) throw new Error("RESTPOINT_STATES names no file; run these tests by pytest");

export const STATES = JSON.parse(readFileSync(file, "utf8"));

/** The BENCH view of a state, with other fields. */
export const view = (name, other = {}) => ({ ...STATES[name].view, ...other });
