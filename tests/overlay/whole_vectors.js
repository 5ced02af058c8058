/** Reads a list of channels' messages from standard input and writes the frames that the pages make of them: for test_whole_agrees.py. */
import { readFileSync } from "node:fs";
import { unpack } from "../../overlay/shared/packed.js";
import { applyPatch } from "../../overlay/shared/patch.js";
import { Whole } from "../../overlay/shared/whole.js";

const channels = JSON.parse(readFileSync(0, "utf8"));
const made = channels.map((messages) => {
  const whole = new Whole();
  let frame = {};
  return messages.map((message) => {
    frame = message.type === "snapshot" ? unpack(message.frame, message.columns) : applyPatch(frame, message.patch);
    return whole.of(frame);
  });
});
process.stdout.write(JSON.stringify(made));
