#!/usr/bin/env python3
"""tables.py FOLDER: every CSV file of a report, read as a spreadsheet reads it.

RFC 4180: CR LF, as many fields in every line, no line end within a field (this program's own rule).
A mark of UTF-8 exactly where the text is not ASCII.  A header names every column once.  No text
that would be calculated, no decimal comma, no nan or inf.
"""
import csv
import io
import os
import re
import sys

NUMBER = re.compile(r"-?\d+(\.\d+)?$")


def check(path):
    raw = open(path, "rb").read()
    body = raw[3:] if raw.startswith(b"\xef\xbb\xbf") else raw
    assert raw.startswith(b"\xef\xbb\xbf") == any(b > 127 for b in body), "byte order mark"
    assert body.endswith(b"\r\n") and body.count(b"\n") == body.count(b"\r\n") == body.count(b"\r")
    rows = list(csv.reader(io.StringIO(body.decode("utf-8"), newline=""), strict=True))
    head = rows[0]
    assert all(head) and len(set(head)) == len(head), head
    numbers = 0
    for row in rows[1:]:
        assert len(row) == len(head), row
        for cell in row:
            assert "\n" not in cell and "\r" not in cell
            assert cell[:1] not in ("=", "+", "@") and (cell[:1] != "-" or NUMBER.match(cell)), cell
            assert not re.match(r"(nan|[+-]?inf)$", cell, re.I), row
            assert not re.match(r"\d+,\d+$", cell), row
            numbers += bool(NUMBER.match(cell))
    return len(rows) - 1, numbers


def main():
    files = sorted(os.listdir(sys.argv[1]))
    total = 0
    for name in files:
        try:
            rows, numbers = check(os.path.join(sys.argv[1], name))
        except AssertionError as e:
            print(f"{name}: {e}")
            sys.exit(1)
        total += numbers
        print(f"{name}: {rows} rows, {numbers} numbers")
    assert len(files) >= int(sys.argv[2]) and total > 0, "too few tables"


main()
