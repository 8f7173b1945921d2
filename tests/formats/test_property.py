"""Damaged files end in a recording or in one clear error, never in anything else."""

import numpy as np
import pytest
from test_conformance import made

from arteriole.errors import ArterioleError
from arteriole.formats import WRITERS, read_recording, write_recording

COUNT = 300


def damaged(content, rng):
    raw = bytearray(content)
    match rng.integers(4):
        case 0:
            return bytes(raw[: rng.integers(1, len(raw))])
        case 1:
            span = min(len(raw), 1500)
            for _ in range(rng.integers(1, 9)):
                raw[rng.integers(span)] = rng.integers(256)
        case 2:
            for _ in range(rng.integers(1, 40)):
                raw[rng.integers(len(raw))] = rng.integers(256)
        case _:
            a, b = sorted(rng.integers(0, len(raw), 2))
            raw = raw[b:] + raw[a:b] + raw[:a]
    return bytes(raw)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("kind", WRITERS, ids=lambda k: k.key)
def test_damage_never_becomes_a_traceback(kind, tmp_path):
    path = tmp_path / f"a{kind.endings[0]}"
    write_recording(made(size=400), path)
    content = path.read_bytes()
    rng = np.random.default_rng(11)
    for _ in range(COUNT):
        path.write_bytes(damaged(content, rng))
        try:
            read_recording(path)
        except ArterioleError:
            continue
