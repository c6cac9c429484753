#!/usr/bin/python3
"""count_results.py LOGS LEAST STATUS - the last line of tests/run.

Counts what `meson test` left in LOGS: every Criterion test (they come as TAP results), and one
for each test that is a script.  LEAST: fewer passed than this is a failure.  STATUS: meson's
own exit status; a run that meson calls failed is never told as passed.
"""
import json
import pathlib
import re
import sys
import xml.etree.ElementTree as ElementTree

logs, least, status = pathlib.Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])

try:
    # With a wrapper meson puts its name into theirs: testlog-san_wrap.sh.json
    (results_file,) = logs.glob("testlog*.junit.xml")
    (programs_file,) = logs.glob("testlog*.json")
    # Meson writes what a test printed as it is; XML has no room for control characters.
    text = results_file.read_text(encoding="utf-8", errors="replace")
    suites = ElementTree.fromstring(re.sub("[^\t\n\r -\ud7ff\ue000-\ufffd]", "?", text))
    with programs_file.open(encoding="utf-8") as lines:
        programs = [json.loads(line) for line in lines]
except (OSError, ElementTree.ParseError, ValueError) as error:
    print(f"meson left no results that can be read: {error}")
    suites, programs = [], []

# A program with results of its own is a suite "mainstair.NAME"; scripts share one, "mainstair".
results = {suite.get("name").partition(".")[2]: list(suite.iter("testcase")) for suite in suites}
results.pop("", None)

passed = failed = skipped = 0
for program in programs:
    whole = program["result"]
    marks = [{child.tag for child in case} for case in results.get(program["name"], [])]
    bad = sum(1 for mark in marks if mark & {"failure", "error"})
    skip = sum(1 for mark in marks if "skipped" in mark)
    passed += len(marks) - bad - skip
    failed += bad
    skipped += skip
    if whole in ("OK", "EXPECTEDFAIL"):
        passed += not marks
    elif whole == "SKIP":
        skipped += not marks
    elif not bad:
        # No result of its own failed: it crashed before its first, ran out of time, or a
        # sanitizer spoke up after its last.
        print(f"failed as a whole: {program['name']} ({whole.lower()})")
        failed += 1

if skipped:
    print(f"{skipped} skipped")
if passed < least:
    print(f"only {passed} passed where at least {least} are expected: tests have gone missing")
    failed += 1
if status and not failed:
    print(f"meson test ended with status {status}")
    failed += 1
print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)
