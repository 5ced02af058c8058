import assert from "node:assert/strict";
import { test } from "node:test";
import { bestLift, loadSteps, nextLoad, platesText, stepped } from "../../overlay/formats/lift.js";

/** Bar, collars and discs: International Weightlifting Federation, technical rules. */
const IWF = { load_unit: "kg", bar_milli: 20_000, collar_milli: 2_500, plates_milli: [25_000, 20_000, 15_000, 10_000, 5_000, 2_500, 2_000, 1_500, 1_000, 500] };

test("the plates for a load are the heaviest first, and a load that cannot be made has none", () => {
  assert.equal(platesText(IWF, 20_000), "bar alone");
  assert.equal(platesText(IWF, 25_000), "bar and collars");
  assert.equal(platesText(IWF, 100_000), "25 + 10 + 2.5 a side");
  assert.equal(platesText(IWF, 100_500), undefined);
  assert.equal(platesText(IWF, 22_000), undefined);
  assert.equal(platesText({ ...IWF, collar_milli: 0, plates_milli: [15_000, 10_000] }, 60_000), "10 + 10 a side");
});

test("the load moves by the smallest change that the plates allow, and by five and twenty-five of it", () => {
  assert.deepEqual(loadSteps(IWF), ["−5", "−1", "+1", "+5", "+25"]);
  assert.equal(stepped(IWF, 100_000, "−5"), 95_000);
  assert.equal(stepped(IWF, 21_000, "−5"), 20_000);
  assert.equal(stepped(IWF, 100_000, "+25"), 125_000);
});

test("the next load is the empty bar, a step more after a good lift, and the same again after a miss", () => {
  assert.equal(nextLoad(IWF, []), 25_000);
  assert.equal(nextLoad(IWF, [{ load_milli: 90_000, made: true }]), 91_000);
  assert.equal(nextLoad(IWF, [{ load_milli: 90_000, made: false }]), 90_000);
});

test("the best is the heaviest good lift, whatever came after it", () => {
  assert.equal(bestLift([{ load_milli: 90_000, made: true }, { load_milli: 95_000, made: false }, { load_milli: 80_000, made: true }]), 90_000);
  assert.equal(bestLift([]), 0);
});
