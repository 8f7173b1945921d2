"""Results become one neutral document tree, rendered as HTML, PDF and text."""

#: Order of the sections of a letter; the first page is for reading, the second for checking.
SECTIONS = (
    "conclusion", "numbers", "haemodynamics", "injections", "infusions", "spasm", "checks",
    "circumstances", "origin", "signature", "evidence", "doubt", "behind", "remarks", "workings",
)  # fmt: skip
