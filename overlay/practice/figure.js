/**
 * The drawn athlete: a pose as lines in a picture of 200 by 240. Pure.
 *
 * @typedef {[number, number]} Spot
 * @typedef {{head: Spot, limbs: string, bar: string, line: string, gauge: number}} Drawing paths of SVG; gauge: 0 to 1
 */

const FLOOR = 222;
/** So far the way goes on while somebody takes about twenty steps, half a turn each. */
const STRIDES = 20 * Math.PI;
/** @type {Spot} */
const MIDDLE = [92, 0];

/**
 * @param {import("./motion.js").Pose} pose
 * @returns {Drawing}
 */
export function drawing({ look, height, share }) {
  return { ...LOOKS[look](height, share), gauge: look === "travel" ? share : height };
}

/** @type {Record<import("./motion.js").Look, (height: number, share: number) => Omit<Drawing, "gauge">>} */
const LOOKS = {
  body: (height) => ({ ...standing(MIDDLE[0], FLOOR, height, 40), bar: "", line: across(48) }),
  bar(height) {
    const bar = 204 - 172 * height;
    const { head, limbs } = standing(MIDDLE[0], FLOOR, Math.min(1, 0.35 + height * 1.3), bar - 60);
    return { head, limbs, bar: `M42 ${bar}H142M42 ${bar - 14}v28M142 ${bar - 14}v28M50 ${bar - 9}v18M134 ${bar - 9}v18`, line: across(32) };
  },
  climb(height) {
    const rise = 100 * height;
    const { head, limbs } = standing(MIDDLE[0], FLOOR - rise, 0.7, 48 - rise, 0.6);
    return { head, limbs, bar: `M${MIDDLE[0]} 10V${FLOOR}`, line: across(24) };
  },
  hop: (height) => ({ ...standing(MIDDLE[0], FLOOR - 26 * height, 0.92, 60), bar: `M60 ${FLOOR}H124`, line: "" }),
  travel(_, share) {
    const at = 24 + 136 * share;
    return { ...standing(at, FLOOR, 0.9 + 0.08 * Math.abs(Math.sin(STRIDES * share)), 50), bar: `M24 ${FLOOR + 8}H160M24 ${FLOOR + 2}v12M160 ${FLOOR + 2}v12`, line: "" };
  },
};

/** @param {number} y */
function across(y) {
  return `M20 ${y}H164`;
}

/**
 * Somebody on two feet, more or less upright, with the hands where they are needed.
 *
 * @param {number} x
 * @param {number} floor
 * @param {number} upright 0: as low as it goes, 1: straight
 * @param {number} hands how far below the top of the picture they are, before the shoulders set a limit
 * @param {number} [size]
 * @returns {{head: Spot, limbs: string}}
 */
function standing(x, floor, upright, hands, size = 1) {
  const hip = floor - (24 + 58 * upright) * size;
  const [shoulder, bend] = [hip - 56 * size, 8 + 22 * (1 - upright)];
  const knee = (hip + floor) / 2;
  const hand = hands + 60;
  const legs = `M${x} ${hip}L${x - bend - 6} ${knee}L${x - 14} ${floor}M${x} ${hip}L${x + bend + 6} ${knee}L${x + 14} ${floor}`;
  const elbow = (shoulder + hand) / 2;
  const arms = `M${x} ${shoulder}L${x - 24} ${elbow}L${x - 22} ${hand}M${x} ${shoulder}L${x + 24} ${elbow}L${x + 22} ${hand}`;
  return { head: [x, shoulder - 20 * size], limbs: `M${x} ${shoulder}V${hip}${legs}${arms}` };
}
