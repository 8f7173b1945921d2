"""Bad input: a clear line on stderr and the right exit code, never a traceback."""

import json
from pathlib import Path

import numpy as np
import pytest

from arteriole import simulate
from arteriole.cli.main import run


@pytest.fixture(scope="module")
def session_csv(tmp_path_factory) -> Path:
    from arteriole.formats import write_recording

    path = tmp_path_factory.mktemp("exits") / "case.csv"
    session = simulate.session("normal", 21, rate_hz=200)
    write_recording(session.recording, path, lossy=True)
    return path


def said(capsys) -> str:
    text = capsys.readouterr().err
    assert "Traceback" not in text
    assert "error: " in text
    return text


def columns(path: Path, keep: dict[str, str], out: Path) -> Path:
    """Write a copy with some columns, renamed; comment lines stay."""
    lines = path.read_text().splitlines()
    head = next(k for k, line in enumerate(lines) if not line.startswith("#"))
    names = lines[head].split(",")
    picks = [names.index(k) for k in keep]
    rows = [",".join(keep.values())]
    rows += [",".join(line.split(",")[p] for p in picks) for line in lines[head + 1 :]]
    out.write_text("\n".join([*lines[:head], *rows]) + "\n")
    return out


def header(path: Path) -> list[str]:
    return next(x for x in path.read_text().splitlines() if not x.startswith("#")).split(",")


def test_a_missing_path_exits_3(capsys):
    assert run(["analyse", "/no/such/file.csv"]) == 3
    assert "/no/such/file.csv" in said(capsys)


def test_a_folder_exits_3(tmp_path, capsys):
    assert run(["analyse", str(tmp_path)]) == 3
    said(capsys)


@pytest.mark.parametrize("content", [b"", b"dear diary\nnothing here\n", b"\x00" * 5000])
def test_what_is_no_recording_exits_3(tmp_path, capsys, content):
    path = tmp_path / "x.csv"
    path.write_bytes(content)

    assert run(["analyse", str(path)]) == 3
    said(capsys)


def test_an_unknown_verb_or_option_exits_2(capsys):
    assert run(["bogus"]) == 2
    assert "allowed" in said(capsys)
    assert run(["analyse", "--bogus", "x.csv"]) == 2
    assert "--help" in said(capsys)


def test_a_bad_sheet_field_exits_2_and_is_named(tmp_path, session_csv, capsys):
    sheet = tmp_path / "sheet.json"
    sheet.write_text('{"vesel": "LAD"}')

    assert run(["analyse", str(session_csv), "--sheet", str(sheet)]) == 2
    assert "vesel" in said(capsys)


def test_without_distal_pressure_no_pressure_index_has_a_value(tmp_path, session_csv, capsys):
    keep = {n: n for n in header(session_csv) if "pd" not in n.lower()}
    path = columns(session_csv, keep, tmp_path / "nopd.csv")
    out = tmp_path / "out.json"

    assert run(["analyse", str(path), "--json", str(out), "--quiet"]) == 0
    rows = {i["key"]: i for i in json.loads(out.read_text())["indices"]}
    needs_pd = [i for i in rows.values() if i["method"] == "pressure"] + [rows["imr"]]
    assert all(i["value"] is None and i["withheld"]["do"] for i in needs_pd)
    assert rows["tmn_rest"]["value"] is not None  # transit times need no pressure
    capsys.readouterr()


def test_only_aortic_pressure_withholds_everything_and_exits_4(tmp_path, session_csv, capsys):
    keep = {n: n for n in header(session_csv) if n.lower().startswith(("time", "pa"))}
    path = columns(session_csv, keep, tmp_path / "pa.csv")
    out = tmp_path / "out.json"

    assert run(["analyse", str(path), "--json", str(out), "--quiet"]) == 4
    assert all(i["value"] is None for i in json.loads(out.read_text())["indices"])
    capsys.readouterr()


def test_swapped_pressures_are_seen(tmp_path, session_csv, capsys):
    names = header(session_csv)
    pa = next(n for n in names if n.lower().startswith("pa"))
    pd = next(n for n in names if n.lower().startswith("pd"))
    keep = {n: {pa: pd, pd: pa}.get(n, n) for n in names}
    path = columns(session_csv, keep, tmp_path / "swapped.csv")
    out = tmp_path / "out.json"

    assert run(["analyse", str(path), "--json", str(out), "--quiet"]) in {0, 4}
    codes = {f["code"] for f in json.loads(out.read_text())["findings"]}
    assert "pressures_swapped" in codes
    capsys.readouterr()


def test_json_to_stdout_is_only_the_document(session_csv, capsys):
    assert run(["analyse", str(session_csv), "--json", "-", "--quiet"]) == 0
    document = json.loads(capsys.readouterr().out)

    assert document["schema"] == "arteriole.result/1"
    assert document["simulated"] is True
    assert np.isfinite([i["value"] for i in document["indices"] if i["value"] is not None]).all()


def test_demo_once_writes_result_and_page_marked_simulated(tmp_path, capsys):
    assert run(["demo", "--once", "--out", str(tmp_path)]) == 0
    written = sorted(p.name for p in tmp_path.iterdir())

    assert len(written) == 2
    assert all("SIMULATED" in name for name in written)
    page = next(tmp_path.glob("*.html")).read_text()
    assert "SIMULATED" in page
    assert "Not a medical device" in page
    assert "SIMULATED" in capsys.readouterr().out
