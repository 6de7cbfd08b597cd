"""The server: a handful of addresses over the ear, the record and the asks.

It has no address for resetting, for limits or for outputs, so it can't go past a judgement of the daemon's.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from importlib.resources import files
from pathlib import Path
from typing import Annotated

from fastapi import FastAPI, Query, Response
from fastapi.responses import FileResponse
from starlette.staticfiles import StaticFiles

from api.ask import Ask, Sent, check, send, unheard
from api.curve_cache import Asked, CurveCache
from api.ear import LOST_AFTER_S, Ear, Heard
from api.guard import ASKS_PATH, Guard
from api.problem import Problem, Refusal, answer_with_problems, describe_problems, may_answer, problem
from api.record import NO_CURVE, TERMS, Curve, Events, RecordUnreadable, Term, read_events
from api.status import StatusAnswer
from daemon.window import Plan, Status

STATIC = Path(str(files("api") / "static"))
LARGEST_ID = 2**63 - 1
ALWAYS = (421,)


def create_app(ear: Ear, asks: Path, host_names: Iterable[str] = ()) -> FastAPI:
    """Make the server for the daemon that `ear` hears and that listens at `asks`.

    `host_names` are further names this machine goes by on the home network.
    """

    @asynccontextmanager
    async def listening(_: FastAPI) -> AsyncIterator[None]:
        await ear.open()
        staying = asyncio.create_task(ear.stay_open())
        yield
        staying.cancel()
        ear.close()

    app = FastAPI(
        title="stokehand",
        version="2",
        summary="What the kiln says, and what a person may ask of it.",
        description="Temperatures in °C, pressures in Pa, times in seconds, fractions from 0 to 1.",
        lifespan=listening,
        docs_url=None,  # these pages load their scripts from the internet; a kiln has none
        redoc_url=None,
    )
    app.add_middleware(Guard, host_names=frozenset(name.lower() for name in host_names))
    answer_with_problems(app)
    _add_looking(app, ear)
    _add_history(app, ear, CurveCache(ear.clock))
    _add_asking(app, ear, asks)
    describe_problems(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app


def _add_looking(app: FastAPI, ear: Ear) -> None:
    @app.get("/", include_in_schema=False)
    async def page() -> FileResponse:
        return FileResponse(STATIC / "index.html")

    @app.get("/status", response_model=StatusAnswer, responses=may_answer(503, *ALWAYS))
    async def status() -> Response:
        """The last status heard, with its age."""
        heard = _heard(ear)
        age_s = ear.age_s(heard)
        said = dict(heard.status)
        connected = age_s < LOST_AFTER_S
        why = "" if connected else ear.why_silent()
        answer = StatusAnswer.model_construct(**said, age_s=round(age_s, 3), connected=connected, why_silent=why)
        return Response(answer.model_dump_json(), media_type="application/json")

    @app.get("/plan", responses=may_answer(503, *ALWAYS))
    async def plan() -> Plan:
        """The plan of the firing."""
        return _heard(ear).status.plan


def _add_history(app: FastAPI, ear: Ear, cache: CurveCache) -> None:
    @app.get("/curve", response_model=Curve, responses=may_answer(422, 503, *ALWAYS))
    async def curve(
        points: Annotated[int, Query(ge=2, le=2000, description="At most this many points, evenly in time.")] = 600,
        terms: Annotated[
            tuple[Term, ...], Query(max_length=len(TERMS), description="Further recorded numbers to give as well.")
        ] = (),
    ) -> Response:
        """The curve of the current firing so far; empty when no firing runs. May be 4 s old."""
        place = _record_of(_heard(ear).status)
        if place is None:
            return Response(NO_CURVE.model_dump_json(), media_type="application/json")
        try:
            json = await cache.curve(Asked(*place, points, tuple(t for t in TERMS if t in terms)))
        except RecordUnreadable as error:
            raise Refusal(_unreadable(error)) from error
        return Response(json, media_type="application/json")

    @app.get("/events", responses=may_answer(422, 503, *ALWAYS))
    async def events(
        after: Annotated[int, Query(ge=0, le=LARGEST_ID, description="Only events with a larger id.")] = 0,
    ) -> Events:
        """What happened in the current firing; empty when no firing runs."""
        place = _record_of(_heard(ear).status)
        if place is None:
            return Events(firing=None, events=[])
        try:
            return await asyncio.to_thread(read_events, *place, after)
        except RecordUnreadable as error:
            raise Refusal(_unreadable(error)) from error


def _add_asking(app: FastAPI, ear: Ear, asks: Path) -> None:
    @app.post(ASKS_PATH, status_code=202, responses=may_answer(400, 403, 409, 411, 413, 415, 422, 503, *ALWAYS))
    async def ask(body: Ask) -> Sent:
        """Pass an ask on to the daemon. A later status tells, under `answered`, what became of it."""
        check(body.ask, ear, LOST_AFTER_S)
        return send(body.ask, asks)


def _heard(ear: Ear) -> Heard:
    if ear.heard is None:
        raise Refusal(unheard(ear))
    return ear.heard


def _record_of(status: Status) -> tuple[Path, int] | None:
    if status.firing is None or status.record is None:
        return None
    return Path(status.record), status.firing


def _unreadable(error: RecordUnreadable) -> Problem:
    do_next = "The firing goes on without it. Look at the daemon's record setting and at the disk."
    return problem(503, "record-unreadable", "Record unreadable", str(error), do_next)
