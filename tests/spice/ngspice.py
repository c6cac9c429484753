"""Runs ngspice in batch mode and reads its binary raw file."""

import array
import os
import subprocess
import tempfile


class NgspiceError(Exception):
    pass


class Waves:
    """Vectors over time, of one run."""

    def __init__(self, names, columns):
        self.columns = dict(zip(names, columns))
        self.time = self.columns["time"]

    def __getitem__(self, name):
        return self.columns[name.lower()]

    def __contains__(self, name):
        return name.lower() in self.columns


def run(text, timeout_s=120):
    with tempfile.TemporaryDirectory(prefix="mainstair-spice-") as folder:
        deck = os.path.join(folder, "c.cir")
        raw = os.path.join(folder, "c.raw")
        with open(deck, "w", encoding="ascii") as f:
            f.write(text)
        env = dict(os.environ, LC_ALL="C", OMP_NUM_THREADS="1")
        try:
            done = subprocess.run(["ngspice", "-b", "-r", raw, deck], stdin=subprocess.DEVNULL,
                                  stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=env,
                                  timeout=timeout_s, check=False)
        except subprocess.TimeoutExpired as e:
            raise NgspiceError("ngspice ran longer than %d s" % timeout_s) from e
        log = done.stdout.decode("latin-1")
        if not os.path.exists(raw) or "aborted" in log or "singular" in log.lower():
            raise NgspiceError("ngspice gave up: " + log.strip()[-600:])
        with open(raw, "rb") as f:
            return _parse(f.read())


def _parse(data):
    head, _, body = data.partition(b"Binary:\n")
    lines = head.decode("latin-1").splitlines()
    variables = points = 0
    names = []
    listing = False
    for line in lines:
        if line.startswith("No. Variables:"):
            variables = int(line.split(":")[1])
        elif line.startswith("No. Points:"):
            points = int(line.split(":")[1])
        elif line.startswith("Variables:"):
            listing = True
        elif listing and line.strip():
            names.append(line.split()[1].lower())
    values = array.array("d")
    values.frombytes(body[:8 * variables * points])
    if len(values) < variables or len(names) != variables:
        raise NgspiceError("ngspice wrote no points")
    return Waves(names, [values[i::variables] for i in range(variables)])


def version():
    try:
        done = subprocess.run(["ngspice", "--version"], stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
    except FileNotFoundError:
        return None
    for line in done.stdout.decode("latin-1").splitlines():
        if "ngspice-" in line:
            return line.strip(" *")
    return "ngspice"
