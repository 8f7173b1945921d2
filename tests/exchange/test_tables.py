import csv
import io
from dataclasses import replace

import pandas as pd
import pyarrow.parquet as pq

from arteriole.exchange.tables import CODEBOOK, tables, to_csv, to_parquet


def test_pandas_reads_back_every_number(full, signals):
    made = tables(full, signals)
    frame = pd.read_csv(io.StringIO(to_csv(made["indices"])))
    assert frame.set_index("key").loc["ffr", "value"] == 0.842
    assert frame["value"].isna().sum() == 1
    assert frame["simulated"].all()
    assert len(pd.read_csv(io.StringIO(to_csv(made["beats"])))) == len(signals.beats.end_s)


def test_parquet_opens_in_a_general_reader(full, signals):
    made = tables(full, signals)
    table = pq.read_table(io.BytesIO(to_parquet(made["injections"])))
    assert table.column("injection").to_pylist() == ["R1", "R2", "R3", "H1", "H2", "H3"]
    assert table.column("tmn_s").to_pylist()[0] == 1.21


def test_codebook_explains_every_column(full, signals):
    made = tables(full, signals)
    columns = {k for name, rows in made.items() if name != "codebook" for k in rows[0]}
    assert columns <= set(CODEBOOK)
    assert columns <= {r["column"] for r in made["codebook"]}


def test_words_do_not_run_as_formulas_but_numbers_keep_their_sign(full):
    bad = replace(full, sheet=replace(full.sheet, case_id='=cmd|"/c calc"!A1\r\nx'))
    row = next(csv.DictReader(io.StringIO(to_csv(tables(bad)["indices"]))))
    assert row["case_id"].startswith("'=")
    assert to_csv([{"value": -2.4}]).splitlines()[1] == "-2.4"
