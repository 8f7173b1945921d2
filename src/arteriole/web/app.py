"""The application: pages, the JSON twin, and the one place where failures become statuses."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from arteriole import __version__
from arteriole.errors import ArterioleError, OptionError, UnknownKey, UnreadableRecording
from arteriole.store import Store
from arteriole.web import bench, compare, exports, ledger, shelf, waiting, working
from arteriole.web.api import api, desk_of, index_part
from arteriole.web.conductor import Conductor, own_conductor
from arteriole.web.desk import Desk
from arteriole.web.guard import Guard, Keys, TooLarge
from arteriole.web.page import face_of

STATIC = Path(__file__).parent / "static"
#: Failure -> status, first match; a recording that cannot be read is the sender's to mend.
STATUS: tuple[tuple[type[Exception], int], ...] = (
    (UnknownKey, 404), (UnreadableRecording, 422), (OptionError, 400), (ArterioleError, 422),
)  # fmt: skip
QUICK_S = 0.4  # a study that opens within this is shown without the waiting page


def create_app(
    store: Store,
    *,
    keys: Keys | None = None,
    conductor: Conductor | None = None,
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost"),
    cookie: str = "arteriole",
) -> FastAPI:
    """Return the application over this store; ``app.state.keys`` gives opening keys."""

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.desk.close()

    app = FastAPI(
        title="arteriole", version=__version__, openapi_url="/api/v1/openapi.json",
        docs_url=None, redoc_url=None, lifespan=life,
    )  # fmt: skip
    app.state.desk = Desk(store, conductor or own_conductor())
    app.state.keys, app.state.cookie = keys or Keys(), cookie
    app.include_router(api)
    app.include_router(exports.exports)
    _pages(app)
    _faults(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_middleware(GZipMiddleware, minimum_size=2000, compresslevel=4)
    app.add_middleware(Guard, keys=app.state.keys, cookie=cookie)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(hosts))
    return app


def _pages(app: FastAPI) -> None:
    @app.get("/", response_class=HTMLResponse, include_in_schema=False)
    def shelf_page(request: Request, q: str = "") -> str:
        return shelf.shelf(face_of(request), desk_of(request).store, q)

    @app.get("/studies/{study_id}", response_class=HTMLResponse, include_in_schema=False)
    def bench_page(request: Request, study_id: str) -> str:
        desk, face = desk_of(request), face_of(request)
        row = desk.store.study(study_id)
        if not desk.is_open(row):
            running = desk.begin(study_id)
            try:
                running.result(QUICK_S)
            except TimeoutError:
                return waiting.waiting(face, row, "")
            except ArterioleError as fault:
                return waiting.waiting(face, row, str(fault))
        return bench.bench(face, desk.open(study_id))

    @app.get("/studies/{study_id}/parts", response_class=HTMLResponse, include_in_schema=False)
    def bench_parts(request: Request, study_id: str) -> str:
        nodes = bench.parts(face_of(request), desk_of(request).open(study_id))
        return "".join(str(n) for n in nodes)  # type: ignore[union-attr]

    @app.get(
        "/studies/{study_id}/working/{key}", response_class=HTMLResponse, include_in_schema=False
    )
    def working_page(request: Request, study_id: str, key: str, part: int = 0) -> str:
        face, reading = face_of(request), desk_of(request).open(study_id)
        index_part(reading, key)
        one = reading.result.index(key)
        if part:
            return str(working.working_part(face, reading, one))
        return working.working(face, reading, one)

    @app.get("/studies/{study_id}/ledger", response_class=HTMLResponse, include_in_schema=False)
    def ledger_page(request: Request, study_id: str) -> str:
        store = desk_of(request).store
        return ledger.ledger(face_of(request), store, store.study(study_id))

    @app.get("/studies/{study_id}/letter", response_class=HTMLResponse, include_in_schema=False)
    def letter_page(request: Request, study_id: str) -> str:
        return exports.letter_page(face_of(request), desk_of(request).open(study_id))

    @app.get("/compare", response_class=HTMLResponse, include_in_schema=False)
    def compare_page(request: Request, a: str = "", b: str = "") -> str:
        desk = desk_of(request)
        one, two = (desk.open(k) if k else None for k in (a, b))
        return compare.compare(face_of(request), desk.store.studies(), one, two)

    @app.get("/favicon.ico", include_in_schema=False)
    def icon() -> Response:
        return RedirectResponse("/static/mark.svg", 301)


def _faults(app: FastAPI) -> None:
    def answer(request: Request, status: int, message: str) -> Response:
        if request.url.path.startswith("/api/"):
            return JSONResponse({"error": message}, status)
        return HTMLResponse(waiting.fault_page(face_of(request), message), status)

    @app.exception_handler(ArterioleError)
    async def known(request: Request, fault: ArterioleError) -> Response:
        status = next(s for kind, s in STATUS if isinstance(fault, kind))
        return answer(request, status, str(fault))

    @app.exception_handler(TooLarge)
    async def large(request: Request, fault: TooLarge) -> Response:
        return answer(request, 413, str(fault))

    @app.exception_handler(HTTPException)
    async def http(request: Request, fault: HTTPException) -> Response:
        said = f"{request.url.path[:80]!r}: {fault.detail}. See the Shelf for what there is."
        return answer(request, fault.status_code, said)

    @app.exception_handler(Exception)
    async def unknown(request: Request, fault: Exception) -> Response:
        said = f"An internal fault ({type(fault).__name__}); nothing was changed. Report it."
        return answer(request, 500, said)

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, fault: RequestValidationError) -> Response:
        first = fault.errors()[0]
        where = ".".join(str(p) for p in first["loc"])
        return answer(request, 400, f"{where}: {str(first['msg']).lower()}. Correct the request.")
