/**
 * Gives the pure modules their words before a test imports them, as a page's first script does: `node --import ./words.js`.
 * `TALLYWIRE_WORDS` names a file with the script of a language; without it Python is asked for the English one.
 */

import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";

const ASK = "from tallywire.wire.catalogue import catalogue, script; print(script(catalogue('en')))";
const path = process.env.TALLYWIRE_WORDS;
const text = path ? readFileSync(path, "utf8") : execFileSync("python", ["-c", ASK], { encoding: "utf8" });
globalThis.WORDS = JSON.parse(text.slice(text.indexOf("{"), text.lastIndexOf("}") + 1));
