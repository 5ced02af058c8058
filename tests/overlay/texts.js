/**
 * Lists what looks like a text for people in the modules of a folder, as JSON: [file, text]. A text has two words with a
 * space between, or begins with a capital letter. What an error says that is thrown is for the console.
 */

import { readdirSync, readFileSync } from "node:fs";
import { join, relative } from "node:path";
import ts from "typescript";

const folder = process.argv[2];
const HOLE = "\u0000";

/** @param {string} path @returns {string[]} */
function modules(path) {
  return readdirSync(path, { withFileTypes: true }).flatMap((entry) => {
    if (entry.isDirectory()) return modules(join(path, entry.name));
    return entry.name.endsWith(".js") ? [join(path, entry.name)] : [];
  });
}

/** @param {ts.Node} node */
function textOf(node) {
  if (ts.isStringLiteral(node) || ts.isNoSubstitutionTemplateLiteral(node)) return node.text;
  if (ts.isTemplateExpression(node)) return [node.head.text, ...node.templateSpans.map(({ literal }) => literal.text)].join(HOLE);
  return "";
}

/** @param {string} text */
function isForPeople(text) {
  return /\p{L}{2,}[ \u00a0]\p{L}{2,}|^\p{Lu}\p{Ll}|^[\p{L} ,.:;()·–-]*\p{L}{2,} \0|\0 \p{L}{2,}/u.test(text);
}

const found = [];
for (const path of modules(folder)) {
  const source = ts.createSourceFile(path, readFileSync(path, "utf8"), ts.ScriptTarget.ES2022, true);
  /** @param {ts.Node} node */
  const look = (node) => {
    if (ts.isImportDeclaration(node) || ts.isThrowStatement(node)) return;
    const text = textOf(node);
    if (isForPeople(text)) found.push([relative(folder, path), text.replaceAll(HOLE, "…")]);
    ts.forEachChild(node, look);
  };
  look(source);
}
console.log(JSON.stringify(found));
