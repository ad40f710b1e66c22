/**
 * npm run texts: prints every text that a person may read, by file and line: pages, sentences, errors, help. For reading them
 * all at once. Comments, names, SQL and texts without a blank are left out.
 */
import { readdirSync, readFileSync } from 'node:fs';
import ts from 'typescript';

const ROOT = new URL('../../', import.meta.url);
/** Attributes and properties that hold no text for people. */
const NOT_READ = /^(class|d|for|href|id|key|of|rel|src|style|type|viewBox|pattern|operationId|transform)$/;
const SQL = /^\s*(SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|PRAGMA|ATTACH|WITH)\b/;
const QUERY = /^[a-z.#[(][\w\-.#>[\]=":(), ]*$/;

for (const folder of ['web', 'server', 'simulator']) {
  for (const name of readdirSync(new URL(folder, ROOT), { recursive: true }).map(String).sort()) {
    if (/\.tsx?$/.test(name) && !/\.d\.ts$|vite\.config|migrations\//.test(name)) printTexts(`${folder}/${name}`);
  }
}

function printTexts(path) {
  const file = ts.createSourceFile(path, readFileSync(new URL(path, ROOT), 'utf8'), ts.ScriptTarget.Latest, true);
  const found = [];
  const add = (node, text) => {
    const plain = text.replace(/\s+/g, ' ').trim();
    const isCode =
      SQL.test(plain) || (/^[a-z]/.test(plain) && QUERY.test(plain) && !/^[a-z]+( [a-z,]+)+\.?$/.test(plain));
    if (/[A-Za-z]/.test(plain) && (ts.isJsxElement(node) || (/ |^[A-Z][a-z]+$/.test(plain) && !isCode)))
      found.push(`${file.getLineAndCharacterOfPosition(node.getStart()).line + 1}: ${plain}`);
  };
  const visit = (node) => {
    if (ts.isImportDeclaration(node) || ts.isTypeNode(node) || ts.isExportDeclaration(node)) return;
    if ((ts.isJsxAttribute(node) || ts.isPropertyAssignment(node)) && NOT_READ.test(node.name.getText())) return;
    if (ts.isJsxElement(node) && node.children.some((child) => ts.isJsxText(child) && /[A-Za-z]/.test(child.text))) {
      add(node, textOfElement(node));
      node.openingElement.attributes.forEachChild(visit);
      for (const child of node.children) if (!ts.isJsxText(child)) visit(child);
      return;
    }
    if (ts.isStringLiteralLike(node)) add(node, node.text);
    else if (ts.isTemplateExpression(node)) {
      add(
        node,
        node.head.text +
          node.templateSpans.map(({ expression, literal }) => `{${short(expression)}}${literal.text}`).join(''),
      );
      node.templateSpans.forEach(visit);
      return;
    }
    node.forEachChild(visit);
  };
  visit(file);
  if (found.length > 0) process.stdout.write(`\n${path}\n${[...new Set(found)].join('\n')}\n`);
}

/** The text of an element as it reads on the page, with its values in braces. */
function textOfElement(node) {
  return node.children
    .map((child) => {
      if (ts.isJsxText(child)) return child.text;
      if (ts.isJsxElement(child)) return textOfElement(child);
      if (!ts.isJsxExpression(child) || !child.expression) return '';
      return ts.isStringLiteralLike(child.expression) ? child.expression.text : `{${short(child.expression)}}`;
    })
    .join('');
}

function short(node) {
  const text = node.getText().replace(/\s+/g, ' ');
  return text.length > 40 ? '…' : text;
}
