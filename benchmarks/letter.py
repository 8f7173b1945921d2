"""Speed and size of the Letter and of every export, on a study with everything.

    python benchmarks/letter.py

One SIMULATED session with bolus, infusion and pullback on a full sheet. Each number is the best of
five in this process after one run to load libraries; the floor is a PDF/A-2a with one empty page by
the same writer. Pages are counted by pypdf.
"""

import io
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import pypdf
import typst

from arteriole import simulate, study
from arteriole.exchange.bag import write_bag
from arteriole.exchange.dicom import encapsulated_pdf, structured_report
from arteriole.exchange.fhir import bundle
from arteriole.exchange.tables import tables, to_csv, to_parquet
from arteriole.formats import write_recording
from arteriole.recording.sheet import sheet_from_mapping
from arteriole.report.html import study_page
from arteriole.report.letter import letter
from arteriole.report.plain_letter import plain_letter
from arteriole.report.templates import named_template

AT = "2026-03-05T10:00:00Z"
LIMIT_S = 1.5
SHEET = {
    "case_id": "bench", "vessel": "LAD", "segment": "mid", "operator": "reader 3",
    "date": "2026-03-04", "wire_position_cm": 7.5, "haemoglobin_g_dl": 13.4, "caffeine_h": 26.0,
    "symptoms": ["chest pain on effort"], "coronary_occlusion_mmhg": 21.0, "cvp_mmhg": 6.0,
    "guide": {"size_f": 6.0, "side_holes": False, "engaged": True}, "lvedp_mmhg": 11.0,
    "spasm_test": [{"agent": "acetylcholine", "dose_ug": d, "route": "intracoronary",
                    "symptoms": "none", "ecg_change": False, "narrowing_percent": 10}
                   for d in (2, 20, 100)],
}  # fmt: skip


def everything():
    made = simulate.session("mixed", 11, continuous=True, rate_hz=500.0)
    kept = {f: getattr(made.sheet, f) for f in ("hyperaemia", "continuous", "pullback",
                                                "temp_reference", "bolus_volume_ml")}  # fmt: skip
    sheet = replace(sheet_from_mapping(SHEET), **kept)
    measured = study.measure(made.recording, study.DEFAULT_SETTINGS)
    return study.analyse(made.recording, sheet, measured=measured), measured


def best(call):
    call()
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        content = call()
        seconds.append(time.perf_counter() - start)
    return min(seconds), content


def floor():
    source = b"#set document(title: [x], date: datetime(year: 1970, month: 1, day: 1))\nx"
    return typst.compile(source, format="pdf", pdf_standards=["a-2a"], ignore_system_fonts=True)


def tidy(result, measured):
    made = tables(result, measured)
    return b"".join(to_csv(r).encode() + to_parquet(r) for r in made.values())


def bagged(result, measured, pdf):
    with tempfile.TemporaryDirectory() as folder:
        original = Path(folder) / "case.h5"
        write_recording(measured.recording, original)
        place = write_bag(Path(folder) / "bag", result, originals=[original],
                          recording=measured.recording, sheet=result.sheet,
                          documents={"letter.pdf": pdf})  # fmt: skip
        return b"".join(p.read_bytes() for p in place.rglob("*") if p.is_file())


def main():
    result, measured = everything()
    least, _ = best(floor)
    pdf = letter(result, measured).pdf()
    german = named_template("de")
    rows = {
        "Letter, PDF on A4": lambda: letter(result, measured).pdf(),
        "Letter, PDF on Letter paper": lambda: letter(result, measured, paper="letter").pdf(),
        "Letter, PDF in German": lambda: letter(result, measured, template=german).pdf(),
        "Letter, HTML": lambda: letter(result, measured).html().encode(),
        "Letter, text": lambda: letter(result, measured).text().encode(),
        "Plain Letter, PDF": lambda: plain_letter(result).pdf(),
        "study page": lambda: study_page(result, measured).encode(),
        "FHIR bundle": lambda: bundle(result, at=AT, recording=measured.recording,
                                      pdf=pdf).encode(),
        "DICOM SR": lambda: structured_report(result, at=AT),
        "DICOM Encapsulated PDF": lambda: encapsulated_pdf(result, pdf, at=AT),
        "tables, CSV and Parquet": lambda: tidy(result, measured),
        "case bag with HDF5 and EDF+": lambda: bagged(result, measured, pdf),
    }  # fmt: skip
    given = sum(i.value is not None for i in result.indices)
    print(f"{given} indices with a value, {len(result.injections)} injections, "
          f"{len(result.findings)} findings; floor {least:.3f} s.\n")  # fmt: skip
    print("| what | time | to the floor | size | pages |\n|---|--:|--:|--:|--:|")
    for name, call in rows.items():
        seconds, content = best(call)
        pages = len(pypdf.PdfReader(io.BytesIO(content)).pages) if content[:4] == b"%PDF" else "—"
        print(f"| {name} | {seconds:.2f} s | {seconds / least:.1f} | "
              f"{len(content) / 1000:.0f} kB | {pages} |")  # fmt: skip
        assert not name.startswith("Letter") or seconds <= LIMIT_S, name


if __name__ == "__main__":
    main()
