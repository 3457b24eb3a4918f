"""The description of the JSON service, drawn from its own schema with nothing loaded from outside."""

import json
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.web.rendering import page

router = APIRouter()


@router.get("/api/docs")
def docs(request: Request) -> Response:
    """Every route with its parameters and body."""
    schema: dict[str, Any] = request.app.openapi()
    routes = []
    for path, methods in schema["paths"].items():
        for method, about in methods.items():
            body = about.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema")
            routes.append(
                {
                    "method": method.upper(),
                    "path": path,
                    "words": about.get("description") or about.get("summary", ""),
                    "parameters": about.get("parameters", []),
                    "body": (body or {}).get("$ref", "").rpartition("/")[2],
                    "answers": {code: a.get("description", "") for code, a in about.get("responses", {}).items()},
                }
            )
    models = {name: json.dumps(model, indent=2, ensure_ascii=False) for name, model in schema["components"]["schemas"].items()}
    return page(request, "docs.html", routes=routes, models=models)
