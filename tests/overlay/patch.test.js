import assert from "node:assert/strict";
import { test } from "node:test";
import { applyPatch } from "../../overlay/shared/patch.js";

/** RFC 7396, Appendix A: original, patch, result. */
const APPENDIX_A = [
  [{ a: "b" }, { a: "c" }, { a: "c" }],
  [{ a: "b" }, { b: "c" }, { a: "b", b: "c" }],
  [{ a: "b" }, { a: null }, {}],
  [{ a: "b", b: "c" }, { a: null }, { b: "c" }],
  [{ a: ["b"] }, { a: "c" }, { a: "c" }],
  [{ a: "c" }, { a: ["b"] }, { a: ["b"] }],
  [{ a: { b: "c" } }, { a: { b: "d", c: null } }, { a: { b: "d" } }],
  [{ a: [{ b: "c" }] }, { a: [1] }, { a: [1] }],
  [["a", "b"], ["c", "d"], ["c", "d"]],
  [{ a: "b" }, ["c"], ["c"]],
  [{ a: "foo" }, null, null],
  [{ a: "foo" }, "bar", "bar"],
  [{ e: null }, { a: 1 }, { e: null, a: 1 }],
  [[1, 2], { a: "b", c: null }, { a: "b" }],
  [{}, { a: { bb: { ccc: null } } }, { a: { bb: {} } }],
];

for (const [original, patch, result] of APPENDIX_A) {
  test(`RFC 7396 Appendix A: ${JSON.stringify(original)} with ${JSON.stringify(patch)}`, () => {
    assert.deepEqual(applyPatch(original, patch), result);
  });
}

test("the vectors of RFC 7396 Appendix A are fifteen", () => {
  assert.equal(APPENDIX_A.length, 15);
});

test("the target stays as it was, and what the patch does not touch is shared", () => {
  const target = { lanes: { 1: { done: 4 }, 2: { done: 5 } }, clock: { cap_ms: 9 } };
  const before = structuredClone(target);
  const patched = applyPatch(target, { lanes: { 1: { done: 5 } } });
  assert.deepEqual(target, before);
  assert.equal(patched.lanes[2], target.lanes[2]);
  assert.equal(patched.clock, target.clock);
  assert.notEqual(patched.lanes, target.lanes);
});

test("a member called __proto__ is data and changes no prototype", () => {
  const patched = applyPatch({}, JSON.parse('{"__proto__": {"polluted": true}}'));
  assert.equal(Object.getPrototypeOf(patched), Object.prototype);
  assert.ok(Object.hasOwn(patched, "__proto__"));
  assert.equal({}.polluted, undefined);
});
