import io
from dataclasses import replace

import pydicom
import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole.exchange.dicom import structured_report
from arteriole.exchange.fhir import bundle

from .test_dicom import referee

WORDS = (
    "<script>x</script>", "a\\b^c=d", "x\x00\x1b[31m\ny", "\u202eabc", "山" * 400, "x" * 10_000,
)  # fmt: skip


def filled(result, words):
    return replace(
        result, sheet=replace(result.sheet, patient_label=words, case_id=words, vessel=words,
                              date=words),
        statement=replace(result.statement, sentence=words, not_assessed=(words,)),
        indices=tuple(replace(i, formula=words, note=words) for i in result.indices),
    )  # fmt: skip


@pytest.mark.parametrize("words", WORDS, ids=range(len(WORDS)))
def test_hostile_words_leave_every_export_readable(full, words, tmp_path):
    bad = filled(full, words)
    assert Bundle.model_validate_json(bundle(bad, at="2026-03-05T10:00:00Z"))
    content = structured_report(bad, at="2026-03-05T10:00:00Z")
    assert pydicom.dcmread(io.BytesIO(content)).Modality == "SR"
    said = referee(content, tmp_path)
    assert not [r for r in said.splitlines() if r.startswith("Error")], said
