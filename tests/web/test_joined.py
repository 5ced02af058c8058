"""A page's modules as one script, against what Node and the TypeScript compiler make of the modules themselves."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tallywire.core.errors import BadFile
from tallywire.shell.files import assets
from tallywire.web.joined import Modules
from tallywire.web.modules import FORMS
from tallywire.web.pages import page_files

COMPILER = Path(__file__).parents[1] / "overlay" / "node_modules" / "typescript"
ALL_FORMS = {
    "page/page.js": 'import { first, second as other } from "./one.js";\n'
    'import {\n  B,\n  C as Passed,\n} from "../shared/passing.js";\nimport { late } from "./late.js";\n'
    "/** A comment.\n * import { none } from nowhere\n */\n"
    'console.log("page", first(), other, new B().name, Passed, typeof this, typeof forgotten);\n'
    'await null;\nfor (const name of ["x", "y", "x"]) console.log(await late(name));\n'
    "await late(`none`).catch(() => console.log(`no such view`));\n"
    'console.log(/** @type {import("./one.js").Type} */ (first)());\n',
    "page/one.js": 'import { base } from "../shared/base.js";\nconsole.log("one");\nconst forgotten = 1; // own\n'
    "export function first() {\n  return [...steps()];\n}\nfunction* steps() {\n  yield base + forgotten;\n}\n"
    "export const second = await Promise.resolve(`two\n  lines`);\n",
    "page/late.js": "export async function late(name) {\n  return (await import(`./views/${name}.js`)).view;\n}\n",
    "page/views/x.js": 'import { base } from "../../shared/base.js";\nconsole.log("x runs once");\n'
    "const forgotten = 2;\nexport const view = `x${base + forgotten}`;\n",
    "page/views/y.js": 'import { view as x } from "./x.js";\nexport const view = `y of ${x}`;\n',
    "shared/base.js": 'console.log("base");\nconst own = 40;\nexport { own as base };\nexport {};\n',
    "shared/passing.js": 'export { base as C } from "./base.js";\nexport class B {\n  name = "b";\n}\n',
}
STRANGE = (
    "export let a = 1;",
    "export var a = 1;",
    "export default 1;",
    'export * from "./b.js";',
    "export const { a } = b;",
    "export function* a() {}",
    "  export const a = 1;",
    "const b = 1; export const a = 1;",
    'import a from "./b.js";',
    'import * as a from "./b.js";',
    'import "./b.js";',
    "import { a } from './b.js';",
    'import { a } from "elsewhere";',
    'import { a } from "./b.json" with { type: "json" };',
    'const a = await import("./b.js");',
    "const a = import(`./${b}/${c}.js`);",
    "const a = import.meta.url;",
    "var a = 1;",
    "const module$1 = 1;",
)
_STATEMENTS = """
const ts = require(process.argv[1]);
const { dirname, join } = require("path").posix;
const printer = ts.createPrinter({ removeComments: true });
const { texts, scripts } = JSON.parse(require("fs").readFileSync(0, "utf8"));
const parsed = (text) => ts.createSourceFile("a.js", text, ts.ScriptTarget.ESNext, true, ts.ScriptKind.JS);
const printed = (file, nodes) => nodes.map((node) => printer.printNode(ts.EmitHint.Unspecified, node, file));
const beside = (path, { text }) => join(dirname(path), text);
const named = (from) => (each) => [from, (each.propertyName ?? each.name).text, each.name.text];

/** What a module's own file has. */
function own([path, text]) {
  const file = parsed(text);
  const [takes, gives, code] = [[], [], []];
  for (const node of file.statements) {
    if (ts.isImportDeclaration(node))
      takes.push(...node.importClause.namedBindings.elements.map(named(beside(path, node.moduleSpecifier))));
    else if (ts.isExportDeclaration(node)) gives.push(...node.exportClause.elements.map((each) => each.name.text));
    else code.push(node);
    if (node.modifiers?.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword))
      gives.push((node.name ?? node.declarationList.declarations[0].name).text);
  }
  return { takes, gives: gives.sort(), code: printed(file, code).map((each) => each.replace(/^export /, "")) };
}

/** What it has in a script, by the path in the comment at its beginning. */
function inside([script, text]) {
  const file = parsed(text);
  const [found, ids] = [{}, {}];
  for (const node of file.statements) {
    if (ts.isImportDeclaration(node))
      ids[node.importClause.namedBindings.name.text] = beside(script, node.moduleSpecifier);
    const block = ts.isBlock(node) ? node : node.expression?.right?.body;
    if (!block) continue;
    const path = /\\/\\* (.+?) \\*\\//.exec(block.getText(file))[1];
    const all = [...block.statements];
    const last = all.pop();
    const given = ts.isReturnStatement(last) ? last.expression : last.expression.right;
    const takes = [];
    while (all[0]?.declarationList?.declarations[0].initializer?.text in ids) {
      const { name, initializer } = all.shift().declarationList.declarations[0];
      takes.push(...name.elements.map(named(ids[initializer.text])));
    }
    if (!ts.isReturnStatement(last)) ids[last.expression.left.text] = path;
    found[path] = { takes, gives: given.properties.map((each) => each.name.text).sort(), code: printed(file, all) };
  }
  return found;
}

console.log(JSON.stringify({ texts: texts.map(own), scripts: scripts.map(inside) }));
"""
_MAPPED = """
const { SourceMap } = require("module");
const [text, map] = JSON.parse(require("fs").readFileSync(0, "utf8"));
const found = new SourceMap(JSON.parse(map));
const places = text.split("\\n").map((line, at) => [line, found.findEntry(at, line.length)]);
console.log(JSON.stringify(places.map(([line, at]) => [line, at.originalSource, at.originalLine])));
"""


def node(program: str, told: object, *arguments: str) -> Any:
    """Run a program of Node's with JSON on both sides."""
    command = ["node", "-e", program, *arguments]
    return json.loads(
        subprocess.run(command, input=json.dumps(told), capture_output=True, text=True, check=True).stdout
    )


def ran(folder: Path, texts: Mapping[str, str], first: str) -> str:
    """What Node prints when it runs a module below a folder."""
    for name, text in {**texts, "package.json": '{"type": "module"}'}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    return subprocess.run(["node", first], cwd=folder, capture_output=True, text=True, check=True).stdout


def test_the_script_does_what_the_modules_do(tmp_path: Path) -> None:
    """Each known form, names that several modules use, a view that another one needs: Node prints the same."""
    script = Modules(ALL_FORMS).joined("page/page.js").text
    modules = ran(tmp_path / "modules", ALL_FORMS, "page/page.js")
    assert modules.splitlines()[:2] == ["base", "one"]
    assert modules.count("x runs once") == 1
    # In the script a view that another view needs runs with the rest, so its line comes earlier.
    one = ran(tmp_path / "one", {"page/joined.js": script}, "page/joined.js")
    assert sorted(one.splitlines()) == sorted(modules.splitlines())
    assert [line for line in one.splitlines() if line != "x runs once"] == [
        line for line in modules.splitlines() if line != "x runs once"
    ]


def test_a_module_of_its_own_stays(tmp_path: Path) -> None:
    """What a page loads before its script is imported by it, and runs once."""
    texts = {
        "page/early.js": 'console.log("early");\nexport const get = () => 1;\n',
        "page/page.js": 'import { get } from "./early.js";\nconsole.log(get());\n',
    }
    script = Modules(texts).joined("page/page.js", ["page/early.js"]).text
    assert ran(tmp_path, {**texts, "page/joined.js": script}, "page/joined.js") == "early\n1\n"


@pytest.mark.parametrize("line", STRANGE)
def test_an_unknown_form_is_refused(line: str) -> None:
    """It says in which module, on which line, what was found, and which forms are known."""
    texts = {"page/page.js": 'import { a } from "./a.js";\n', "page/a.js": f"/**\n * One.\n */\nconst b = 1;\n{line}\n"}
    with pytest.raises(BadFile) as raised:
        Modules(texts).joined("page/page.js")
    assert str(raised.value) == f"page/a.js: 1 problem\n  line 5: found {line.strip()}, expected {FORMS}"


@pytest.mark.parametrize(
    ("texts", "problem"),
    [
        ({"a.js": 'import { c } from "./b.js";\n'}, "a.js: 1 problem\n  line 2: found an import of c, expected a name"),
        (
            {"a.js": 'import { b } from "./c.js";\n'},
            "a.js: 1 problem\n  line 2: found an import of c.js, expected a file",
        ),
        (
            {"a.js": 'import { b } from "./b.js";\n', "b.js": '\nimport { a } from "./a.js";\nexport const b = 1;\n'},
            "b.js: 1 problem\n  line 2: found page.js → a.js → b.js → a.js, expected modules",
        ),
        ({}, "page.js: 1 problem\n  line 1: found an import of a.js, expected a file"),
        (
            {"page.js": 'export { b as c } from "./b.js";\nexport { d } from "./b.js";\n'},
            "line 2: found an import of d",
        ),
    ],
    ids=["no such name", "no such file", "ring", "nothing", "not passed on"],
)
def test_what_cannot_be_bound_is_refused(texts: dict[str, str], problem: str) -> None:
    """A name that is not exported, a file that is not there, modules that need each other."""
    texts = {name: f"// {name}\n{text}" if name == "a.js" else text for name, text in texts.items()}
    own = {"page.js": 'import { a } from "./a.js";\n', "b.js": "export const b = 1;\n"}
    with pytest.raises(BadFile) as raised:
        Modules(own | texts).joined("page.js")
    assert problem in str(raised.value)


def test_a_page_without_its_module_is_refused() -> None:
    """The server does not start with a page that could do nothing."""
    with pytest.raises(BadFile, match=r"page/page\.js: 1 problem\n  the file: found none"):
        Modules({}).joined("page/page.js")


def test_nothing_of_the_pages_is_lost() -> None:
    """Each page's script has every statement, import and export of its modules. Source: the TypeScript compiler."""
    folder, files = assets("overlay"), page_files(assets("overlay"))
    scripts = {name: files.text(name) or "" for name in files.digests() if name.endswith("/joined.js")}
    paths = [path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*.js"))]
    texts = [(path, (folder / path).read_text(encoding="utf-8")) for path in paths]
    found = node(_STATEMENTS, {"texts": texts, "scripts": list(scripts.items())}, str(COMPILER))
    own, joined = dict(zip(paths, found["texts"], strict=True)), dict[str, Any]()
    for blocks in found["scripts"]:
        for path, block in blocks.items():
            assert joined.setdefault(path, block) == block, path
    loader = [each.replace("import(`./views/", "module$later(`air/views/") for each in own["air/player.js"]["code"]]
    assert loader != own["air/player.js"]["code"]
    own["air/player.js"]["code"] = loader
    for path, block in joined.items():
        # The order of names in a block is by module, that of the file by line.
        assert sorted(block.pop("takes")) == sorted(own[path].pop("takes")), path
        assert block == own[path], path
    types = {path for path, each in own.items() if not each["code"] + each["gives"]}
    apart = {"worker.js", "shared/arrive.js", "public/choose.js", "public/early.js"}
    assert set(own) - set(joined) == types | apart
    assert len(scripts) == len(list(folder.glob("*/index.html")))


def test_a_line_is_found_in_its_module() -> None:
    """The source map leads from every line of a module in the script to its place in the file. Source: Node."""
    folder, files = assets("overlay"), page_files(assets("overlay"))
    text, source_map = files.text("air/joined.js") or "", files.text("air/joined.js.map") or ""
    assert text.endswith("//# sourceMappingURL=joined.js.map\n")
    seen = 0
    for line, source, number in node(_MAPPED, [text, source_map]):
        if source is None or not line.startswith("  ") or "module$" in line:
            continue
        original = (folder / "air" / source).read_text(encoding="utf-8").split("\n")
        assert line == original[number], (source, number)
        seen += 1
    assert seen > 1000
    assert re.search(r'"sources":\["\.\./shared/dom\.js"\]', source_map)
