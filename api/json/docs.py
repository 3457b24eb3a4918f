"""The description of the service as a plain page, drawn from its own schema; loads nothing from outside."""

import json
from html import escape
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

router = APIRouter(include_in_schema=False)

_CSS = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; }
pre { overflow: auto; padding: .75rem; border: 1px solid; border-radius: .25rem; }
code, pre { font-family: ui-monospace, monospace; font-size: .9rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .25rem .5rem; border-bottom: 1px solid; }
section { margin-block: 2rem; }
"""
_METHODS = ("get", "post", "put", "patch", "delete")


def _type(schema: dict[str, Any]) -> str:
    """A schema in a few words, as HTML; a model becomes a link to its table."""
    if "$ref" in schema:
        name = escape(schema["$ref"].rsplit("/", 1)[-1])
        return f'<a href="#model-{name}">{name}</a>'
    for joined in ("anyOf", "oneOf"):
        if joined in schema:
            return " or ".join(_type(part) for part in schema[joined])
    if schema.get("type") == "array":
        return f"list of {_type(schema.get('items', {}))}"
    if "enum" in schema or "const" in schema:
        return " or ".join(
            f"<code>{escape(json.dumps(v))}</code>" for v in schema.get("enum", [schema.get("const")])
        )
    return escape({"null": "nothing"}.get(schema.get("type", ""), schema.get("type", "any")))


def _example(schema: dict[str, Any], models: dict[str, Any], deep: int = 0) -> Any:
    """An example for a schema: the one written beside it, else one made of its parts."""
    if "$ref" in schema:
        return _example(models.get(schema["$ref"].rsplit("/", 1)[-1], {}), models, deep + 1)
    if "example" in schema:
        return schema["example"]
    if schema.get("examples"):
        return schema["examples"][0]
    if "default" in schema:
        return schema["default"]
    for joined in ("anyOf", "oneOf"):
        if joined in schema:
            return _example(schema[joined][0], models, deep)
    kind = schema.get("type")
    if kind == "object" and deep < 6:
        return {k: _example(v, models, deep + 1) for k, v in schema.get("properties", {}).items()}
    if kind == "array":
        return [_example(schema.get("items", {}), models, deep + 1)] if deep < 6 else []
    return {"integer": 1, "number": 1.0, "boolean": False, "string": "text"}.get(kind or "")


def _pre(value: Any) -> str:
    return f"<pre tabindex=0>{escape(json.dumps(value, indent=1, ensure_ascii=False))}</pre>"


def _table(heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    head = "".join(f"<th scope=col>{h}</th>" for h in heads)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _operation(path: str, method: str, described: dict[str, Any], models: dict[str, Any]) -> str:
    parts = [f"<section><h3><code>{method.upper()} {escape(path)}</code></h3>"]
    parts.append(f"<p>{escape(described.get('description', described.get('summary', '')))}</p>")
    rows = [
        (
            f"<code>{escape(p['name'])}</code>",
            p["in"] + (", needed" if p.get("required") else ""),
            _type(p.get("schema", {})),
            escape(p.get("description", p.get("schema", {}).get("description", ""))),
        )
        for p in described.get("parameters", ())
    ]
    if rows:
        parts.append(_table(("Parameter", "Where", "Type", "Meaning"), rows))
    for kind, content in described.get("requestBody", {}).get("content", {}).items():
        schema = content.get("schema", {})
        parts.append(f"<p>Body ({escape(kind)}): {_type(schema)}</p>{_pre(_example(schema, models))}")
    answers = []
    for status, answer in described.get("responses", {}).items():
        for kind, content in (answer.get("content") or {"": {}}).items():
            shown = _type(content["schema"]) if content.get("schema") else ""
            answers.append((escape(status), escape(answer.get("description", "")), escape(kind), shown))
    parts.append(_table(("Status", "Meaning", "Kind", "Model"), answers) + "</section>")
    return "".join(parts)


def _model(name: str, schema: dict[str, Any], models: dict[str, Any]) -> str:
    needed = schema.get("required", ())
    rows = [
        (
            f"<code>{escape(field)}</code>",
            _type(part),
            "yes" if field in needed else "no",
            escape(part.get("description", "")),
        )
        for field, part in schema.get("properties", {}).items()
    ]
    return (
        f'<section id="model-{escape(name)}"><h3>{escape(name)}</h3><p>{escape(schema.get("description", ""))}</p>'
        + _table(("Field", "Type", "Always there", "Meaning"), rows)
        + _pre(_example(schema, models))
        + "</section>"
    )


def docs_page(schema: dict[str, Any]) -> str:
    """The whole page for an OpenAPI schema."""
    models = schema.get("components", {}).get("schemas", {})
    operations = [
        _operation(path, method, methods[method], models)
        for path, methods in schema["paths"].items()
        for method in _METHODS
        if method in methods
    ]
    info = schema["info"]
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><title>The JSON service – Stripleaf</title>'
        '<link rel="stylesheet" href="/api/docs.css"></head><body>'
        f'<header><p><a href="/">{escape(info["title"])}</a> {escape(info["version"])}</p></header>'
        f"<main><h1>The JSON service</h1><p>{escape(info.get('description', ''))} The same as data: "
        '<a href="/api/openapi.json">openapi.json</a>. '
        'Errors are problem details (RFC 9457): <a href="#model-Problem">Problem</a>.</p>'
        f"<h2>Endpoints</h2>{''.join(operations)}"
        f"<h2>Models</h2>{''.join(_model(name, models[name], models) for name in sorted(models))}</main></body></html>"
    )


@router.get("/docs", response_class=HTMLResponse)
def docs(request: Request) -> HTMLResponse:
    """The page about every endpoint and model."""
    return HTMLResponse(docs_page(request.app.openapi()))


@router.get("/docs.css")
def stylesheet() -> Response:
    """The page's own style."""
    return Response(_CSS, media_type="text/css")
