import assert from "node:assert/strict";
import { test } from "node:test";

import { MOST_ON_PAGE, PAGE_MS, createPages } from "../../overlay/air/ranking.js";
import { isSigned, markText } from "../../overlay/air/life.js";

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
