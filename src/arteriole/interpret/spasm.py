"""The spasm test as it stands on the sheet: three criteria, two of three is inconclusive."""

from dataclasses import dataclass
from typing import Literal

from arteriole.recording.sheet import Sheet, SpasmStep

SpasmWord = Literal[
    "epicardial spasm", "microvascular spasm", "spasm test inconclusive", "negative", "not done"
]
ORDER: tuple[SpasmWord, ...] = (
    "epicardial spasm", "microvascular spasm", "spasm test inconclusive", "negative",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Spasm:
    """What the test says, why, and what weakens a negative."""

    word: SpasmWord
    because: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()


def spasm_of(sheet: Sheet, narrowing_percent: float) -> Spasm:
    """Return the word of the strongest step.

    All of narrowing, usual symptoms and ECG change: epicardial spasm. Symptoms and ECG change
    without the narrowing: microvascular spasm. Any other two of three, or a criterion of two that
    was not recorded: inconclusive [Ong2018].
    """
    if not sheet.spasm_test:
        return Spasm(word="not done")
    words = [(_word(s, narrowing_percent), s) for s in sheet.spasm_test]
    word, step = min(words, key=lambda w: ORDER.index(w[0]))
    weak: list[str] = []
    if word == "negative":
        if sheet.nitrate.dose_ug:
            weak.append("nitrate was given before")
        if sheet.vessel and sheet.arteries_spasm_tested and (
            sheet.vessel not in sheet.arteries_spasm_tested
        ):  # fmt: skip
            weak.append(f"the {sheet.vessel} was not tested")
        if not sheet.arteries_spasm_tested:
            weak.append("which arteries were tested is not recorded")
    return Spasm(word=word, because=(_told(step, word),), weak=tuple(weak))


def _word(step: SpasmStep, narrowing_percent: float) -> SpasmWord:
    pain = None if step.symptoms is None else step.symptoms == "usual"
    narrow = None if step.narrowing_percent is None else step.narrowing_percent >= narrowing_percent
    marks = (narrow, pain, step.ecg_change)
    met, unknown = marks.count(True), marks.count(None)
    if met == 3:
        return "epicardial spasm"
    if pain and step.ecg_change and narrow is False:
        return "microvascular spasm"
    if met == 2 or (unknown and met + unknown >= 2):
        return "spasm test inconclusive"
    return "negative"


def _told(step: SpasmStep, word: SpasmWord) -> str:
    narrowing = (
        "narrowing not recorded" if step.narrowing_percent is None
        else f"narrowing {step.narrowing_percent:g} %"
    )  # fmt: skip
    pain = "symptoms not recorded" if step.symptoms is None else f"symptoms: {step.symptoms}"
    ecg = {None: "ECG not recorded", True: "ECG change", False: "no ECG change"}[step.ecg_change]
    return f"Spasm test, {word} [Ong2018]: {narrowing}, {pain}, {ecg}."
