import assert from "node:assert/strict";
import { test } from "node:test";

import { MOST_ON_PAGE, PAGE_MS, createPages } from "../../overlay/air/ranking.js";
import { isSigned, markText } from "../../overlay/air/life.js";
import { needLines, placesText } from "../../overlay/air/needs.js";

test("pages follow each other, each for a while, and begin again", () => {
  let now = 0;
  const pages = createPages(() => now);
  const shown = [];
  for (; now < 4 * PAGE_MS; now += PAGE_MS) shown.push(pages.turn(2 * MOST_ON_PAGE + 1, -1).page);
  assert.deepEqual(shown, [0, 1, 2, 0]);
});

test("a page is due only when another one is", () => {
  let now = 0;
  const pages = createPages(() => now);
  pages.turn(MOST_ON_PAGE + 1, -1);
  now = PAGE_MS - 1;
  assert.equal(pages.due(), false);
  now = PAGE_MS;
  assert.equal(pages.due(), true);
});

test("whoever is marked keeps the page", () => {
  let now = 0;
  const pages = createPages(() => now);
  assert.deepEqual(pages.turn(3 * MOST_ON_PAGE, MOST_ON_PAGE), { page: 1, pages: 3 });
  now = 5 * PAGE_MS;
  assert.equal(pages.due(), false);
});

test("one page never turns", () => {
  let now = 0;
  const pages = createPages(() => now);
  pages.turn(MOST_ON_PAGE, -1);
  now = 10 * PAGE_MS;
  assert.equal(pages.due(), false);
});

test("only what is signed goes without the word unofficial", () => {
  const marks = ["live", "provisional", "official", "amended"].map((stage) => [markText({ result: { stage } }), isSigned({ result: { stage } })]);
  assert.deepEqual(marks.map(([text, signed]) => /unofficial/i.test(text) !== signed), [true, true, true, true]);
  assert.equal(markText({}), "Unofficial");
  assert.equal(markText({ result: { stage: "something new" } }), "Unofficial");
});

/** @param {object} stakes */
const needed = (stakes) => {
  const lane = { division: "w", entry: "e1", stakes: { clinched: false, alive: true, best: 1, worst: 9, clinching: [], leading: [], podium: "possible", beat: [], ...stakes } };
  return needLines({ lanes: { 2: {} }, overall: {} }, lane).map(({ label, rival, value }) => [label, rival, value].filter(Boolean).join(" | "));
};

test("places read as ranges", () => {
  assert.deepEqual([[1], [1, 2], [1, 2, 3, 4], [1, 3, 4, 5]].map(placesText), ["1st", "1st or 2nd", "1st to 4th", "1st or 3rd to 5th"]);
});

test("what is needed says what is certain, what is possible and what is gone", () => {
  assert.deepEqual(needed({ clinched: true, clinching: [1, 2], leading: [1, 2] }), ["leads overall | whatever happens in this event"]);
  assert.deepEqual(needed({ clinching: [1], leading: [1, 2, 3] }), ["leads for certain | with 1st", "can still lead | with 1st to 3rd"]);
  assert.deepEqual(needed({ alive: false, best: 4, podium: "gone" }), ["overall lead | out of reach, 4th at best", "podium | out of reach"]);
  assert.deepEqual(needed({ leading: [1], cut: "certain", cut_to: 10 }).at(-1), "the cut to 10 | safe");
  assert.deepEqual(needLines({ lanes: {}, overall: {} }, { division: "w", entry: "e1" }), []);
});

test("a margin of places reads both ways, and a rival whose lane is off the air is not named", () => {
  const beat = [
    { entry: "a", short: "Abara", by: 2 },
    { entry: "b", short: "Brandt", by: 0 },
    { entry: "c", short: "Ruiz", by: -1, lane: 2 },
    { entry: "d", short: "Holm", by: 1, lane: 7 },
  ];
  assert.deepEqual(needed({ leading: [1], beat }).slice(1), ["must beat | Abara | by 2 places", "must not lose to | Brandt | level is enough", "may lose to | Ruiz | by 1 place"]);
});
