"""Errors as problem details (RFC 9457), with what to do next for the person who reads them."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from daemon.window import Wanted

MEDIA_TYPE = "application/problem+json"


class BadField(BaseModel):
    """One thing wrong with a request."""

    where: str
    what: str


class Problem(BaseModel):
    """What went wrong with a request."""

    type: str = Field(description="Which problem: a stable name for programs.")
    title: str = Field(description="The problem in a few words, always the same for one type.")
    status: int = Field(description="The HTTP status again.")
    detail: str = Field(description="What happened this time.")
    do_next: str = Field(description="What the person can do.")
    wanted: tuple[Wanted, ...] | None = Field(default=None, description="What may be asked now, if this may not.")
    errors: tuple[BadField, ...] | None = Field(default=None, description="What is wrong, part by part.")

    def response(self, headers: Mapping[str, str] | None = None) -> JSONResponse:
        """Return it as an answer with the right media type."""
        body = self.model_dump(exclude_none=True)
        return JSONResponse(body, self.status, headers=headers, media_type=MEDIA_TYPE)


class Refusal(Exception):
    """Raised inside a request to answer it with a problem."""

    def __init__(self, problem: Problem) -> None:
        """Carry the problem."""
        super().__init__(problem.detail)
        self.problem = problem


def problem(
    status: int, name: str, title: str, detail: str, do_next: str, wanted: tuple[Wanted, ...] | None = None
) -> Problem:
    """Write a problem; its type is a URN of this project."""
    return Problem(
        type=f"urn:stokehand:{name}",
        title=title,
        status=status,
        detail=detail,
        do_next=do_next,
        wanted=wanted,
    )


def may_answer(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Describe these problems for the OpenAPI document of a route."""
    schema = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    return {status: {"description": HTTPStatus(status).phrase, "content": schema} for status in statuses}


async def _refused(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, Refusal):
        raise error
    return error.problem.response()


async def _http(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, HTTPException):
        raise error
    phrase = HTTPStatus(error.status_code).phrase
    name = phrase.lower().replace(" ", "-")
    answer = problem(error.status_code, name, phrase, str(error.detail), "Send what /openapi.json describes.")
    return answer.response(error.headers)


async def _invalid(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, RequestValidationError):
        raise error
    errors = tuple(BadField(where=".".join(map(str, e["loc"])), what=str(e["msg"])) for e in error.errors())
    detail = "; ".join(f"{e.where}: {e.what}" for e in errors)
    answer = problem(422, "not-understood", "Request not understood", detail, "Send what /openapi.json describes.")
    return answer.model_copy(update={"errors": errors}).response()


async def _broken(_: Request, error: Exception) -> JSONResponse:
    detail = f"The page's server made a mistake of its own: {type(error).__name__}."
    do_next = "The kiln is not affected. Read the server's log, and look at the kiln itself."
    return problem(500, "server-mistake", "Server mistake", detail, do_next).response()


def describe_problems(app: FastAPI) -> None:
    """Put the form of a problem into the OpenAPI document. Call it once all routes are there."""
    form = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
    parts = form.pop("$defs", {})
    app.openapi()["components"]["schemas"].update({"Problem": form, **parts})


def answer_with_problems(app: FastAPI) -> None:
    """Make every error of this app a problem."""
    app.add_exception_handler(Refusal, _refused)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _broken)
