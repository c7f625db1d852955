"""Brute-force reference for chains with a failed part.

The whole switched circuit is integrated: every switch a resistor of 1 milliohm or 10 megohm, every body
diode a voltage of 0.8 V behind 1 milliohm, all flying capacitors and tanks. While nothing switches the
circuit is linear, and a step multiplies its state by a matrix exponential: no error of the step. A step
that ends with a diode or a rectifier in the wrong state is halved until the event is known to 1/1024 of
a step. A slow controller lowers the frequency while the output current is too small, and raises it
while it is too large. It starts from the healthy frequency with the ideal capacitor voltages, and the
part fails after some hundred periods.

All designs are invented. Nothing is shared with the solver.

Usage: python3 faults.py > ../data/faults_corners.json    (numpy and scipy needed; about ten minutes)
"""

import json
import sys
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from scipy.linalg import expm

CLOSED, OPEN = 1e3, 1e-7
DIODE = 0.8
# Steps are halved so often.
LEVELS = 10
STEP = 160e-9
TICK = STEP / 2**LEVELS


class Circuit:
    """A converter on its way through time; leg 0 is the driven leg, leg 1 the other one."""

    def __init__(self, design, fault=None):
        self.d, self.fault = design, fault
        self.n = n = design["phases"]
        self.legs = 2 if design["drive"] == "full-bridge" else 1
        turns = design["turns_ratio"]
        # A full-bridge rectifier: two diodes conduct.
        self.clamp = turns * (design["output_voltage_V"] + 2 * design["rectifier_drop_V"])
        self.gain = turns
        self.nodes = self.legs * (2 * n - 1)
        # Current, capacitor, magnetising current and rectified charge of every tank; then the flying ones.
        self.size = 4 * n + self.legs * (n - 1)
        self.x = np.zeros(self.size + 1)
        self.x[-1] = 1.0
        v = design["input_voltage_V"]
        for leg in range(self.legs):
            for k in range(1, n):
                self.x[self.flying(leg, k)] = v * (n - k) / n
        if self.legs == 1:
            self.x[n : 2 * n] = v / n / 2
        self.signs = [0] * n
        self.diodes = [[[False, False] for _ in range(n)] for _ in range(self.legs)]
        self.half = 0
        self.topologies, self.steps = {}, {}

    def flying(self, leg, k):
        return 4 * self.n + leg * (self.n - 1) + k - 1

    def fail(self, fault):
        self.fault = fault
        self.topologies, self.steps = {}, {}
        if fault["kind"] == "flying_capacitor_short":
            self.x[self.flying(fault["leg"], fault["place"])] = 0.0
        k = fault["place"] - 1
        if fault["kind"] == "tank_open":
            self.x[k] = self.x[2 * self.n + k] = 0.0
        if fault["kind"] in ("tank_open", "rectifier_open"):
            self.signs[k] = 0
            self.x[2 * self.n + k] = self.x[k]

    def share(self, leg, k):
        f = self.fault
        aged = f and f["kind"] == "flying_capacitor_aged" and f["place"] == k and f["leg"] == leg
        return f["remaining"] if aged else 1.0

    def top(self, leg, k):
        """Node T(k), k from 0; None is the input."""
        if k == 0:
            return None
        if k == self.n:
            return self.switching(leg, k)
        return leg * (2 * self.n - 1) + k - 1

    def switching(self, leg, k):
        return leg * (2 * self.n - 1) + self.n - 1 + k - 1

    def hit(self, leg, k, *kinds):
        f = self.fault
        return f is not None and f["place"] == k and f["kind"] in kinds and f["leg"] in (leg, "all")

    def gates(self):
        def of(leg, k):
            is_high = (k + leg + self.half) % 2 == 1
            high = is_high and not self.hit(leg, k, "both_gates_off", "high_gate_off")
            low = not is_high and not self.hit(leg, k, "both_gates_off", "low_gate_off")
            return (
                high or self.hit(leg, k, "high_switch_short"),
                low or self.hit(leg, k, "low_switch_short", "bypassed"),
            )

        return [[of(leg, k) for k in range(1, self.n + 1)] for leg in range(self.legs)]

    def key(self):
        diodes = tuple(on for leg in self.diodes for pair in leg for on in pair)
        return (self.half, tuple(self.signs), diodes)

    def topology(self):
        """State matrix, and rows that give the voltages across diodes and windings."""
        key = self.key()
        if key in self.topologies:
            return key, self.topologies[key]
        n, d = self.n, self.d
        caps = [(leg, k) for leg in range(self.legs) for k in range(1, n)]
        caps = [c for c in caps if not self.hit(c[0], c[1], "flying_capacitor_open")]
        unknowns = self.nodes + len(caps)
        m = np.zeros((unknowns, unknowns))
        # Right side as rows over the state and the constant one.
        rhs = np.zeros((unknowns, self.size + 1))
        v_in = d["input_voltage_V"]

        def join(a, b, g, source=0.0):
            """A conductance from b to a, with a voltage that drives current from b to a subtracted."""
            for node in (a, b):
                if node is not None:
                    m[node, node] += g
            if a is not None and b is not None:
                m[a, b] -= g
                m[b, a] -= g
            if a is not None:
                rhs[a, -1] -= g * source
            if b is not None:
                rhs[b, -1] += g * source

        gates = self.gates()
        for leg in range(self.legs):
            for k in range(1, n + 1):
                high, low = gates[leg][k - 1]
                high_diode, low_diode = self.diodes[leg][k - 1]
                g_high = CLOSED if high or high_diode else OPEN
                g_low = CLOSED if low or low_diode else OPEN
                up, own = self.top(leg, k - 1), self.top(leg, k)
                # The body diode conducts from T(k) to T(k-1): current = g (T(k) - T(k-1) - d).
                drop = DIODE if high_diode and not high else 0.0
                join(up, own, g_high, drop)
                if up is None:
                    rhs[own, -1] += g_high * v_in
                # From ground to S(k): current = g (0 - S(k) - d).
                drop = DIODE if low_diode and not low else 0.0
                join(self.switching(leg, k), None, g_low, drop)
        for row, (leg, k) in enumerate(caps):
            at = self.nodes + row
            t, s = self.top(leg, k), self.switching(leg, k)
            m[at, t], m[at, s] = 1.0, -1.0
            rhs[at, self.flying(leg, k)] = 1.0
            # The current into the capacitor leaves T(k) and enters S(k).
            m[t, at], m[s, at] = 1.0, -1.0
        for k in range(1, n + 1):
            rhs[self.switching(0, k), k - 1] -= 1.0
            if self.legs == 2:
                rhs[self.switching(1, k), k - 1] += 1.0
        solved = np.linalg.solve(m, rhs)

        a = np.zeros((self.size + 1, self.size + 1))
        lr, lm = d["resonant_inductance_H"], d["magnetising_inductance_H"]
        cr, r = d["resonant_capacitance_F"], d["series_resistance_ohm"]
        windings = np.zeros((n, self.size + 1))
        for k in range(n):
            i, vc, im, q = k, n + k, 2 * n + k, 3 * n + k
            u = solved[self.switching(0, k + 1)].copy()
            if self.legs == 2:
                u -= solved[self.switching(1, k + 1)]
            net = u.copy()
            net[i] -= r
            net[vc] -= 1.0
            sign = self.signs[k]
            a[vc, i] = 1.0 / cr
            windings[k] = lm / (lr + lm) * net
            if self.hit(0, k + 1, "tank_open"):
                windings[k] = 0.0
                continue
            if sign == 0:
                a[i], a[im] = net / (lr + lm), net / (lr + lm)
            else:
                net[-1] -= sign * self.clamp
                a[i] = net / lr
                a[im, -1] = sign * self.clamp / lm
                a[q, i], a[q, im] = sign, -sign
        for row, (leg, k) in enumerate(caps):
            if self.hit(leg, k, "flying_capacitor_short"):
                continue
            c = d["flying_capacitance_F"] * self.share(leg, k)
            a[self.flying(leg, k)] = solved[self.nodes + row] / c
        across = np.zeros((self.legs * n * 2, self.size + 1))
        row = 0
        for leg in range(self.legs):
            for k in range(1, n + 1):
                up, own = self.top(leg, k - 1), self.top(leg, k)
                across[row] = solved[own]
                if up is None:
                    across[row, -1] -= v_in
                else:
                    across[row] -= solved[up]
                across[row + 1] = -solved[self.switching(leg, k)]
                row += 2
        free = [not on for leg in gates for pair in leg for on in pair]
        free = np.array(free)
        self.topologies[key] = (a, across, free, windings)
        return key, self.topologies[key]

    def step_matrix(self, key, a, level):
        known = self.steps.get((key, level))
        if known is None:
            known = expm(a * (STEP / 2**level))
            self.steps[(key, level)] = known
        return known

    def wrong(self, topology, x):
        """Diodes and rectifiers whose state does not fit."""
        _, across, free, windings = topology
        v = across @ x
        on = np.array([o for leg in self.diodes for pair in leg for o in pair])
        wrong_diodes = np.nonzero(np.where(on, ~free | (v < DIODE - 1e-5), free & (v > DIODE + 1e-3)))[0]
        n, wrong = self.n, []
        for k in range(n):
            sign = self.signs[k]
            if self.hit(0, k + 1, "rectifier_open", "tank_open"):
                continue
            if sign == 0:
                w = windings[k] @ x
                if abs(w) > self.clamp + 1e-4:
                    wrong.append((k, 1 if w > 0 else -1))
            elif sign * (x[k] - x[2 * n + k]) < -1e-4:
                wrong.append((k, 0))
        return wrong_diodes, wrong

    def settle(self):
        """Sets diodes and rectifiers until all fit."""
        seen = set()
        for _ in range(80):
            key, topology = self.topology()
            diodes, rectifiers = self.wrong(topology, self.x)
            if len(diodes) == 0 and not rectifiers:
                return
            if key in seen:
                diodes, rectifiers = diodes[:1], rectifiers[: 0 if len(diodes) else 1]
            seen.add(key)
            for n in diodes:
                leg, rest = divmod(int(n), 2 * self.n)
                k, side = divmod(rest, 2)
                self.diodes[leg][k][side] = not self.diodes[leg][k][side]
            for k, sign in rectifiers:
                self.signs[k] = sign
                if sign == 0:
                    self.x[k] = self.x[2 * self.n + k]

    def advance(self, ticks):
        """So many ticks without a gate that switches."""
        level = 0
        while ticks > 0:
            size = 2 ** (LEVELS - level)
            while size > ticks:
                level += 1
                size //= 2
            key, topology = self.topology()
            x = self.step_matrix(key, topology[0], level) @ self.x
            diodes, rectifiers = self.wrong(topology, x)
            if len(diodes) == 0 and not rectifiers:
                self.x, ticks = x, ticks - size
                level = max(level - 1, 0)
                continue
            if level < LEVELS:
                level += 1
                continue
            self.x, ticks = x, ticks - size
            self.settle()

    def period(self, frequency):
        """Output current of every phase over a period."""
        n = self.n
        self.x[3 * n : 4 * n] = 0.0
        half = round(0.5 / frequency / TICK)
        for self.half in (0, 1):
            self.settle()
            self.advance(half)
        return self.gain * self.x[3 * n : 4 * n] / (2 * half * TICK)


def regulate(circuit, frequency, periods, pace=0.005, last=100):
    """A slow controller; gives frequency and currents, averaged over the last periods."""
    wanted = circuit.d["output_current_A"]
    low, high = circuit.d["frequency_band_Hz"]
    sums, frequencies = np.zeros(circuit.n), 0.0
    for n in range(periods):
        currents = circuit.period(frequency)
        if n >= periods - last:
            sums += currents
            frequencies += frequency
        error = float(np.clip(currents.sum() / wanted - 1, -1.0, 1.0))
        frequency = min(max(frequency * (1 + pace * error), low), high)
    return frequencies / last, sums / last


def design(phases, drive, volts, output, tank, flying, band=(70e3, 600e3)):
    """An invented design; tank: Lr, Cr, Lm, turns, R, rectifier drop."""
    keys = ["resonant_inductance_H", "resonant_capacitance_F", "magnetising_inductance_H"]
    keys += ["turns_ratio", "series_resistance_ohm", "rectifier_drop_V"]
    return dict(zip(keys, tank)) | {
        "phases": phases,
        "drive": drive,
        "rectifier": "full-bridge",
        "input_voltage_V": volts,
        "output_voltage_V": output[0],
        "output_current_A": output[1],
        "flying_capacitance_F": flying,
        "frequency_band_Hz": list(band),
    }


NEAR = (20e-6, 80e-9, 90e-6, 2.4, 0.102, 0.7)
BUCK = (20e-6, 80e-9, 90e-6, 4.0, 0.102, 0.5)
# Far above resonance: a seventh of the charge flows back at first.
LAGGING = (9e-6, 150e-9, 45e-6, 2.2, 0.05, 0.7)


def corner(phases, flying, kind, place, tank=NEAR, output=None, volts=None):
    """A full bridge of which one leg is damaged."""
    output = output or (60.0, 12.5 * phases)
    one = design(phases, "full-bridge", volts or 150.0 * phases, output, tank, flying)
    return {"design": one, "fault": {"kind": kind, "place": place, "leg": 0}}


SHORT, HIGH, LOW = "flying_capacitor_short", "high_switch_short", "low_switch_short"
CORNERS = [
    *(corner(4, c * 1e-6, SHORT, 2) for c in (20, 14, 11, 8, 4, 2)),
    corner(4, 8e-6, HIGH, 2),
    corner(4, 4e-6, HIGH, 3),
    corner(2, 8e-6, SHORT, 1),
    corner(2, 4e-6, LOW, 1),
    corner(6, 8e-6, SHORT, 3),
    corner(4, 10e-6, SHORT, 2, output=(55.0, 40.0)),
    corner(5, 2e-6, SHORT, 1, tank=BUCK, output=(24.0, 60.0), volts=1000.0),
    corner(5, 2e-6, SHORT, 2, tank=BUCK, output=(24.0, 60.0), volts=1000.0),
    corner(3, 3e-6, SHORT, 1, tank=BUCK, output=(24.0, 45.0), volts=600.0),
    *(corner(2, c * 1e-6, SHORT, 1, tank=LAGGING, output=(60.0, 20.0), volts=300.0) for c in (3, 6)),
    corner(2, 6e-6, LOW, 1, tank=LAGGING, output=(60.0, 20.0), volts=300.0),
    corner(4, 20e-6, SHORT, 2, tank=LAGGING, output=(60.0, 40.0), volts=600.0),
    # On the verge of sharing.
    corner(4, 14e-6, SHORT, 2, output=(55.0, 40.0)),
    corner(2, 14e-6, SHORT, 1),
]


# Kind and place (1 is the first) of what fails in drawn designs.
DRAWN = [
    (SHORT, 1), (LOW, 2), (HIGH, 1), ("tank_open", 1), ("low_gate_off", 1),
    ("flying_capacitor_aged", 1), (LOW, 1), (SHORT, 2), ("rectifier_open", 2), (HIGH, 3),
]  # fmt: skip


def drawn(number):
    """A design with 2 to 5 phases, half and full bridges by turns, and one of the faults above."""
    kind, place = DRAWN[number]
    rng = np.random.default_rng(900 + number)
    between = lambda low, high: float(rng.uniform(low, high))
    full = number % 2 == 1
    phases = max(int(rng.integers(2, 6)), place + (kind != LOW))
    impedance, turns, omega = between(6, 20), between(1.5, 5), 2 * np.pi * 100e3
    of_phase, gain, drop = between(120, 250), between(0.8, 1.05), 0.6
    clamp = gain * of_phase * (1 if full else 0.5)
    cr = 1 / (impedance * omega)
    primary = between(0.25, 0.5) * 0.81 * clamp / impedance
    tank = (impedance / omega, cr, between(4, 7) * impedance / omega, turns)
    tank += (between(0.005, 0.015) * impedance, drop)
    output = (clamp / turns - 2 * drop, phases * primary * turns)
    drive = "full-bridge" if full else "half-bridge"
    flying = between(60, 300) * cr
    one = design(phases, drive, of_phase * phases, output, tank, flying, (55e3, 500e3))
    leg = "all" if kind in ("tank_open", "rectifier_open") else int(full and number % 4 == 1)
    fault = {"kind": kind, "place": place, "leg": leg}
    if kind == "flying_capacitor_aged":
        fault["remaining"] = 0.1
    return {"design": one, "fault": fault, "start_Hz": 105e3}


def followed(case):
    """The case with what the integration finds."""
    circuit = Circuit(case["design"])
    # Without a second leg a remaining chain takes longer to share.
    periods = 3000 if circuit.legs == 2 else 12000
    healthy, _ = regulate(circuit, case.get("start_Hz", 130e3), 600, pace=0.01, last=50)
    circuit.fail(case["fault"])
    halfway, _ = regulate(circuit, healthy, periods // 2)
    frequency, currents = regulate(circuit, halfway, periods // 2)
    return case | {
        "healthy_frequency_Hz": healthy,
        "frequency_halfway_Hz": halfway,
        "frequency_Hz": frequency,
        "phase_output_current_A": [round(float(i), 4) for i in currents],
    }


def main():
    """One case a line; some only, by their numbers on the command line."""
    cases = CORNERS + [drawn(number) for number in range(len(DRAWN))]
    wanted = [int(n) for n in sys.argv[1:]] or range(len(cases))
    with ProcessPoolExecutor(2) as pool:
        lines = [json.dumps(found) for found in pool.map(followed, [cases[n] for n in wanted])]
    print("[\n" + ",\n".join(lines) + "\n]")


if __name__ == "__main__":
    main()
