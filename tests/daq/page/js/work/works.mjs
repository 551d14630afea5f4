/** What the bench sends, as Python made it for this run: the wrapper names the file. */
import { readFileSync } from "node:fs";

const file = process.env.RESTPOINT_WORKS;
if (!file) throw new Error("RESTPOINT_WORKS names no file; run these tests by pytest");

export const WORKS = JSON.parse(readFileSync(file, "utf8"));

/** A state whose job or calibration has other fields. */
export const changed = (name, part, other) => ({ ...WORKS[name], [part]: { ...WORKS[name][part], ...other } });
