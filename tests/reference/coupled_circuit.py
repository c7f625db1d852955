"""Brute-force reference for the steady states of the whole interleaved LLC circuit.

All phases and all flying capacitors are integrated jointly, as one piecewise-linear circuit; no phase
is treated on its own and no half-wave symmetry is used. Between two events the state follows
a matrix exponential (scipy.linalg.expm); the instants at which a rectifier starts or stops conducting
are bracketed on a grid and refined (scipy.optimize.brentq). The periodic steady state is found by
running the circuit from rest and polishing with Newton steps on the period map, whose derivative is
carried along exactly. The last period is then repeated by a general-purpose Runge-Kutta integrator
(scipy.integrate.solve_ivp, DOP853), from circuit equations written out a second time.

Phases are numbered from 1 in names and results and from 0 in code. Odd phases are high in the first
half period (half 0), even ones in the second (half 1). The state is

    z = [i (N), vCr (N), im (N), v (N-1), v' (N-1, full bridge), 1]

with v and v' the flying-capacitor voltages of the first and the return leg. All units are SI.

Usage: python3 coupled_circuit.py > ../data/coupled_circuit.json     (numpy and scipy needed)
"""

import json

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import brentq

WARM_UP_PERIODS = 400
GAUSS_NODES, GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(24)
# Rectifier: (diode drops in series, winding voltage and output current per turn).
RECTIFIERS = {"full-bridge": (2, 1.0), "centre-tap": (1, 1.0), "voltage-doubler": (2, 0.5)}


class Circuit:
    """The circuit of one design, as a chain of flying capacitors or plainly paralleled."""

    def __init__(self, design, frequency, chain, samples=200):
        parts = design["parts"]
        column = lambda name: np.array([p[name] for p in parts])
        self.lr, self.cr = column("resonant_inductance_H"), column("resonant_capacitance_F")
        self.lm, self.r = column("magnetising_inductance_H"), column("series_resistance_ohm")
        self.count, self.chain = len(parts), chain
        self.full = design["drive"] == "full-bridge"
        self.vin, self.vo = design["input_voltage_V"], design["output_voltage_V"]
        drops, per_turn = RECTIFIERS[design["rectifier"]]
        self.diode_loss_V = drops * design["rectifier_drop_V"]
        self.gain = per_turn * column("turns_ratio")
        self.vp = self.gain * (self.vo + self.diode_loss_V)
        flying = np.array(design["flying_capacitance_F"])
        self.legs = [flying] if chain else []
        if chain and self.full:
            self.legs.append(np.array(design.get("return_flying_capacitance_F", flying)))
        self.size = 3 * self.count + len(self.legs) * (self.count - 1) + 1
        self.period, self.samples = 1.0 / frequency, samples
        self.scale = np.full(self.size, self.vin / self.count)
        self.scale[: self.count] = self.scale[2 * self.count : 3 * self.count] = (
            self.vin / self.count / np.sqrt(self.lr / self.cr)
        )
        self.volt = self.scale[self.count]
        self.scale[-1] = 1.0
        self.cache = {}

    def exponential(self, a, times):
        """exp(a t) for each time, worked out in per-unit variables to keep it well scaled."""
        per_unit = self.scale[:, None] / self.scale
        return expm(a / per_unit * np.asarray(times)[..., None, None]) * per_unit

    def unit(self, index, factor=1.0):
        row = np.zeros(self.size)
        row[index] = factor
        return row

    def i(self, k):
        return self.unit(k)

    def rectified(self, k):
        return self.unit(k) - self.unit(2 * self.count + k)

    def high(self, leg, half, k):
        """Whether the high switch of a phase is on, in the first leg (0) or the return leg (1)."""
        first = (k + half) % 2 == 0
        return first if leg == 0 else self.full and not first

    def flying(self, leg, k):
        """Row of the voltage of flying capacitor k = 1..N-1; the input for k = 0, zero for k = N."""
        if k <= 0:
            return self.unit(-1, self.vin)
        if k == self.count:
            return np.zeros(self.size)
        return self.unit(3 * self.count + leg * (self.count - 1) + k - 1)

    def node(self, leg, half, k):
        """Row of the voltage of a switching node to ground."""
        if not self.high(leg, half, k):
            return np.zeros(self.size)
        if not self.chain:
            return self.unit(-1, self.vin / self.count)
        return self.flying(leg, k) - self.flying(leg, k + 1)

    def drive(self, half, k):
        """Row of the voltage across tank capacitor, inductances and resistance, but for R i."""
        return self.node(0, half, k) - self.node(1, half, k) - self.unit(self.count + k)

    def magnetising_voltage(self, half, k):
        """Row of the winding voltage while the rectifier is off."""
        loop = self.drive(half, k) - self.unit(k, self.r[k])
        return loop * self.lm[k] / (self.lm[k] + self.lr[k])

    def matrix(self, half, mode):
        """dz/dt = A z while the rectifiers clamp with the signs in mode (0: off)."""
        n, a = self.count, np.zeros((self.size, self.size))
        for k, s in enumerate(mode):
            a[n + k, k] = 1.0 / self.cr[k]
            if s == 0:
                a[k] = a[2 * n + k] = self.magnetising_voltage(half, k) / self.lm[k]
            else:
                clamp = self.unit(-1, s * self.vp[k])
                a[k] = (self.drive(half, k) - self.unit(k, self.r[k]) - clamp) / self.lr[k]
                a[2 * n + k] = clamp / self.lm[k]
        for leg, capacitance in enumerate(self.legs):
            for k in range(n - 1):
                row = 3 * n + leg * (n - 1) + k
                out_of_node = 1.0 if leg == 0 else -1.0
                a[row, k] = out_of_node * self.high(leg, half, k) / capacitance[k]
                a[row, k + 1] = -out_of_node * self.high(leg, half, k + 1) / capacitance[k]
        return a

    def flow(self, half, mode):
        """The matrix A and its exponentials on a grid over half a period."""
        key = half, tuple(mode)
        if key not in self.cache:
            a = self.matrix(half, mode)
            grid = np.linspace(0.0, self.period / 2, self.samples + 1)
            self.cache[key] = a, grid, self.exponential(a, grid)
        return self.cache[key]

    def sampled(self, half, mode, z, duration):
        """Times from 0 to duration and the states there."""
        a, grid, powers = self.flow(half, mode)
        m = np.searchsorted(grid, duration * (1 - 1e-12))
        times = np.append(grid[:m], duration)
        states = powers[:m] @ z
        last = self.exponential(a, duration - grid[m - 1]) @ states[-1]
        return a, times, np.vstack([states, last])


def refine(c, a, times, states, j, row, offset=0.0):
    """The time between samples j - 1 and j at which row z = offset, and the state there."""
    at = lambda t: c.exponential(a, t) @ states[j - 1]
    t = brentq(lambda t: row @ at(t) - offset, 0.0, times[j] - times[j - 1], xtol=1e-22, rtol=1e-15)
    return times[j - 1] + t, at(t)


def first_event(c, half, mode, z, duration):
    """Follow the circuit to its next rectifier event, or through the whole duration.

    Returns the time, the state, and the phase, event row and new sign (None without an event).
    """
    a, times, states = c.sampled(half, mode, z, duration)
    found = (duration, states[-1], None)
    for k, s in enumerate(mode):
        if s == 0:
            row = c.magnetising_voltage(half, k)
            value = row @ states.T
            crossed = (np.abs(value[:-1]) < c.vp[k]) & (np.abs(value[1:]) >= c.vp[k])
        else:
            row = c.rectified(k)
            value = s * (row @ states.T)
            crossed = (value[:-1] > 0.0) & (value[1:] <= 0.0)
        hits = np.flatnonzero(crossed) + 1
        if hits.size == 0:
            outside = np.abs(value).max() - c.vp[k] if s == 0 else -value.min()
            assert outside < 1e-9 * (c.scale[0] if s else c.volt), "a rectifier event was missed"
            continue
        if times[hits[0] - 1] > found[0]:
            continue
        sign = int(np.sign(row @ states[hits[0]])) if s == 0 else 0
        t, at = refine(c, a, times, states, hits[0], row, sign * c.vp[k])
        if t < found[0]:
            found = (t, at, (k, row, sign))
    return found


def off_projection(c, mode):
    """Sets im = i in the phases whose rectifier is off."""
    p = np.eye(c.size)
    for k, s in enumerate(mode):
        if s == 0:
            p[2 * c.count + k] = c.unit(k)
    return p


def one_period(c, z, mode):
    """One period from the instant at which the odd phases go high.

    Returns the final state and mode, the derivative of the final state, state and derivative at half
    time, and the segments (half, mode, state, duration) between events.
    """
    mode, segments, middle = list(mode), [], None
    z, m = off_projection(c, mode) @ z, off_projection(c, mode)
    for half in (0, 1):
        if half == 1:
            middle = z, m
        for k, s in enumerate(mode):
            vm = c.magnetising_voltage(half, k) @ z
            if s == 0 and abs(vm) >= c.vp[k]:
                mode[k] = int(np.sign(vm))
        left = c.period / 2
        while left > 1e-15 * c.period:
            a = c.matrix(half, mode)
            t, after, event = first_event(c, half, mode, z, left)
            segments.append((half, tuple(mode), z, t))
            m, z, left = c.exponential(a, t) @ m, after, left - t
            if event is None:
                break
            k, row, sign = event
            vm = c.magnetising_voltage(half, k) @ z
            if sign == 0 and abs(vm) >= c.vp[k]:
                sign = int(np.sign(vm))
            mode[k] = sign
            p = off_projection(c, mode)
            velocity = a @ z
            jump = c.matrix(half, mode) @ p @ z - p @ velocity
            m = (p + np.outer(jump, row) / (row @ velocity)) @ m
            z = p @ z
    return z, mode, m, middle, segments


def interval_start_voltages(c, start, middle, leg):
    """Rows and states that give each switching node's voltage as its high interval begins."""
    for k in range(c.count):
        half = 0 if c.high(leg, 0, k) else 1
        yield c.node(leg, half, k), (start, middle)[half]


def steady_state(c, split=None):
    """Periodic steady state: state and mode at the start of a period, and its relative residual.

    In a full-bridge chain the period map leaves N-1 combinations of charges unchanged, so a family of
    steady states exists. The one taken has V(k) - V'(k) equal in all phases, plus split[k] if given.
    """
    n = c.count
    z, mode = np.zeros(c.size), [0] * n
    z[-1] = 1.0
    if not c.full:
        z[n : 2 * n] = c.vin / n / 2
    for leg in range(len(c.legs)):
        for k in range(1, n):
            z += c.flying(leg, k) * c.vin * (n - k) / n
    for _ in range(WARM_UP_PERIODS):
        z, mode = one_period(c, z, mode)[:2]
    split = np.zeros(n) if split is None else np.asarray(split)
    best = np.inf
    for _ in range(12):
        end, end_mode, m, (middle, m_middle), _ = one_period(c, z, mode)
        error, slope = end - z, m - np.eye(c.size)
        if c.chain and c.full:
            legs = [list(interval_start_voltages(c, z, middle, leg)) for leg in (0, 1)]
            value = [np.array([row @ at for row, at in leg]) for leg in legs]
            grad = [
                np.array([row @ (m_middle if at is middle else np.eye(c.size)) for row, at in leg])
                for leg in legs
            ]
            error = np.append(error, np.diff(value[0] - value[1] - split))
            slope = np.vstack([slope, np.diff(grad[0] - grad[1], axis=0)])
        rows = np.append(c.scale, np.full(len(error) - c.size, c.volt))
        error = error / rows
        residual = np.abs(error).max()
        if residual >= best and best < 1e-11:
            break
        if residual < best:
            best, kept = residual, (z, mode)
        step = np.linalg.lstsq(
            (slope / rows[:, None] * c.scale)[:, :-1], -error, rcond=1e-11
        )[0]
        z, mode = z.copy(), end_mode
        z[:-1] += step * c.scale[:-1]
    assert best < 1e-9, f"no steady state: residual {best}"
    return *kept, best


def zero_crossings(c, a, times, states, row):
    value = states @ row
    hits = np.flatnonzero(value[:-1] * value[1:] < 0.0) + 1
    return [refine(c, a, times, states, j, row) for j in hits]


def extremes(c, segments, row_of_half):
    """Smallest and largest value of a row over the halves for which it is given."""
    values = []
    for half, mode, z, duration in segments:
        row = row_of_half(half)
        if row is not None:
            a, times, states = c.sampled(half, mode, z, duration)
            values += list(states @ row)
            values += [row @ at for _, at in zero_crossings(c, a, times, states, row @ a)]
    return min(values), max(values)


def averages(c, segments, function):
    """Mean over the period of function(half, states), smooth but at zeros of the tank currents."""
    total = 0.0
    for half, mode, z, duration in segments:
        a, times, states = c.sampled(half, mode, z, duration)
        cuts = [t for k in range(c.count) for t, _ in zero_crossings(c, a, times, states, c.i(k))]
        cuts = np.array([0.0, *sorted(cuts), duration])
        for begin, end in zip(cuts[:-1], cuts[1:]):
            nodes = begin + (end - begin) * (GAUSS_NODES + 1) / 2
            x = (c.exponential(a, nodes) @ z).T
            total = total + function(half, x) @ GAUSS_WEIGHTS * (end - begin) / 2
    return total / c.period


def switch_currents(c, leg, half, x):
    """Currents of the high and the low switches of a leg, shape (2, N, points)."""
    out = x[: c.count] * (1.0 if leg == 0 else -1.0)
    on = np.array([float(c.high(leg, half, k)) for k in range(c.count)])[:, None]
    high = on * out
    # A low switch that is on also passes what the next phase draws through their flying capacitor.
    drawn = np.vstack([high[1:], np.zeros_like(high[:1])]) * c.chain
    return np.array([high, (1 - on) * (out + drawn)])


def measure(c, z, mode):
    """All results of a steady state."""
    end, _, m, (middle, _), segments = one_period(c, z, mode)
    n, legs = c.count, (0, 1) if c.full else (0,)
    mean = lambda function: averages(c, segments, function)
    rectified = mean(lambda half, x: np.abs(x[:n] - x[2 * n : 3 * n]))
    squared = mean(lambda half, x: x[:n] ** 2)
    drawn = [mean(lambda half, x: switch_currents(c, leg, half, x)[0]) for leg in legs]
    supply = c.vin * sum(d[0] for d in drawn) if c.chain else c.vin / n * sum(map(sum, drawn))
    output = c.gain * rectified
    losses = (c.r @ squared, c.diode_loss_V * output.sum())
    start = [
        np.array([row @ at for row, at in interval_start_voltages(c, z, middle, leg)]) for leg in legs
    ]
    result = {
        "switching_frequency_Hz": 1.0 / c.period,
        "total_output_current_A": output.sum(),
        "output_current_A": output,
        "rms_tank_current_A": np.sqrt(squared),
        "mean_abs_tank_current_A": mean(lambda half, x: np.abs(x[:n])),
        "peak_tank_current_A": [
            max(np.abs(extremes(c, segments, lambda half: c.i(k)))) for k in range(n)
        ],
        "charge_C": drawn[0] * c.period,
        "interval_start_voltage_V": start[0],
    }
    if c.full and c.chain:
        result["return_interval_start_voltage_V"] = start[1]
        result["mean_interval_start_voltage_V"] = (start[0] + start[1]) / 2
    for leg, name in zip(legs, ("", "return_")):
        rms = np.sqrt(mean(lambda half, x: switch_currents(c, leg, half, x) ** 2))
        result[name + "high_switch_rms_current_A"], result[name + "low_switch_rms_current_A"] = rms
        if c.chain:
            result |= chain_voltages(c, segments, leg, name)
    result |= {
        "input_power_W": supply,
        "output_power_W": c.vo * output.sum(),
        "resistive_loss_W": losses[0],
        "rectifier_loss_W": losses[1],
        "relative_power_residual": (supply - c.vo * output.sum() - sum(losses)) / supply,
        "relative_period_residual": np.abs((end - z) / c.scale).max(),
    }
    if c.chain:
        moduli = np.abs(np.linalg.eigvals(m[:-1, :-1]))
        result["period_map_eigenvalue_moduli"] = np.sort(moduli)[::-1]
    return result


def chain_voltages(c, segments, leg, name):
    """Flying-capacitor voltages and the highest voltage that each switch of a leg blocks."""
    n = c.count
    mean = averages(c, segments, lambda half, x: np.array([c.flying(leg, k) @ x for k in range(1, n)]))
    span = np.array([extremes(c, segments, lambda half: c.flying(leg, k)) for k in range(1, n)])
    high, low = [], []
    for k in range(n):
        off = lambda half: None if c.high(leg, half, k) else c.flying(leg, k - 1) - c.flying(leg, k + 1)
        on = lambda half: c.node(leg, half, k) if c.high(leg, half, k) else None
        high.append(extremes(c, segments, off)[1])
        low.append(extremes(c, segments, on)[1])
    return {
        name + "flying_capacitor_mean_voltage_V": mean,
        name + "flying_capacitor_min_voltage_V": span[:, 0],
        name + "flying_capacitor_max_voltage_V": span[:, 1],
        name + "high_switch_peak_blocking_voltage_V": high,
        name + "low_switch_peak_blocking_voltage_V": low,
    }


class WrittenOut:
    """The circuit laws written out anew for a Runge-Kutta integrator.

    The state lacks the constant 1 and gains the integrals of abs(i - im), abs(i) and i^2.
    """

    def __init__(self, circuit):
        self.c, self.n, self.size = circuit, circuit.count, circuit.size - 1

    def source(self, x, k, half):
        """Voltage that the bridge of a phase applies, and the leg whose high switch is on."""
        c, n = self.c, self.n
        leg = 0 if (k + half) % 2 == 0 else 1
        sign = (1, -1)[leg]
        if leg == 1 and not c.full:
            return 0.0, None
        if not c.chain:
            return sign * c.vin / n, None
        first = 3 * n + leg * (n - 1)
        above = c.vin if k == 0 else x[first + k - 1]
        below = 0.0 if k == n - 1 else x[first + k]
        return sign * (above - below), leg

    def loop(self, x, k, half):
        return self.source(x, k, half)[0] - x[self.n + k] - self.c.r[k] * x[k]

    def winding(self, x, k, half):
        return self.loop(x, k, half) * self.c.lm[k] / (self.c.lr[k] + self.c.lm[k])

    def sign_from_off(self, x, k, half):
        v = self.winding(x, k, half)
        return int(np.sign(v)) if abs(v) >= self.c.vp[k] else 0

    def rates(self, _, x, half, mode):
        c, n, d = self.c, self.n, np.zeros_like(x)
        for k, s in enumerate(mode):
            i, im = x[k], x[2 * n + k]
            if s == 0:
                d[k] = d[2 * n + k] = self.loop(x, k, half) / (c.lr[k] + c.lm[k])
            else:
                d[k] = (self.loop(x, k, half) - s * c.vp[k]) / c.lr[k]
                d[2 * n + k] = s * c.vp[k] / c.lm[k]
            d[n + k] = i / c.cr[k]
            leg = self.source(x, k, half)[1]
            if leg is not None:
                first, current = 3 * n + leg * (n - 1), (i, -i)[leg]
                if k < n - 1:
                    d[first + k] += current / c.legs[leg][k]
                if k > 0:
                    d[first + k - 1] -= current / c.legs[leg][k - 1]
            d[self.size :][k :: n] = abs(i - im), abs(i), i * i
        return d

    def rectifier_event(self, k, s):
        def event(_, x, half, mode):
            if s == 0:
                return abs(self.winding(x, k, half)) - self.c.vp[k]
            return s * (x[k] - x[2 * self.n + k])

        event.terminal, event.direction = True, 1 if s == 0 else -1
        return event

    def zero_event(self, k):
        """Stops at a zero of the tank current, which keeps abs(i) smooth in every stretch."""

        def event(_, x, half, mode):
            return x[k]

        event.terminal = True
        return event

    def half_period(self, x, mode, half):
        """Integrate through half a period; returns the state and the rectifiers' signs."""
        c, n = self.c, self.n
        absolute = 1e-15 * np.append(c.scale[:-1], np.repeat(c.scale[:n], 3) * c.period)
        t, end, at_zero = half * c.period / 2, (half + 1) * c.period / 2, None
        mode = [s or self.sign_from_off(x, k, half) for k, s in enumerate(mode)]
        while t < end:
            events = [(k, self.rectifier_event(k, s)) for k, s in enumerate(mode)]
            events += [(None, self.zero_event(k)) for k in range(n) if k != at_zero]
            run = solve_ivp(
                self.rates,
                (t, end),
                x,
                "DOP853",
                events=[e for _, e in events],
                args=(half, mode),
                rtol=3e-14,
                atol=absolute,
                max_step=c.period / 500,
            )
            assert run.success, run.message
            t, x, at_zero = run.t[-1], run.y[:, -1].copy(), None
            hits = [j for j, found in enumerate(run.t_events) if found.size]
            if not hits:
                continue
            k = events[hits[0]][0]
            if k is None:
                at_zero = int(np.argmin(np.abs(x[:n])))
            elif mode[k] == 0:
                mode[k] = int(np.sign(self.winding(x, k, half)))
            else:
                x[2 * n + k] = x[k]
                mode[k] = self.sign_from_off(x, k, half)
        return x, mode


def runge_kutta_check(c, z, mode, result):
    """Repeat the period with DOP853.

    Returns the largest relative difference: of the state after the period, and of the output,
    mean absolute and rms currents.
    """
    other = WrittenOut(c)
    x, mode = np.append(z[:-1], np.zeros(3 * c.count)), list(mode)
    for half in (0, 1):
        x, mode = other.half_period(x, mode, half)
    rectified, absolute, squared = x[other.size :].reshape(3, c.count) / c.period
    difference = lambda value, key: np.abs(value / result[key] - 1).max()
    return max(
        np.abs((x[: other.size] - z[:-1]) / c.scale[:-1]).max(),
        difference(c.gain * rectified, "output_current_A"),
        difference(absolute, "mean_abs_tank_current_A"),
        difference(np.sqrt(squared), "rms_tank_current_A"),
    )


def largest_difference(a, b, keys):
    """Largest relative difference of two sets of results, relative to the largest of each array."""
    worst = 0.0
    for key in keys:
        x, y = np.asarray(a[key]), np.asarray(b[key])
        if np.any(x):
            worst = max(worst, np.abs(x - y).max() / np.abs(x).max())
    return worst


def solve(design, frequency, chain):
    """Steady state of one arrangement with its accuracy, as plain numbers."""
    circuit = Circuit(design, frequency, chain)
    z, mode, _ = steady_state(circuit)
    result = measure(circuit, z, mode)
    informative = ("period_map_eigenvalue_moduli", "relative_power_residual", "relative_period_residual")
    keys = [key for key in result if key not in informative]
    fine = Circuit(design, frequency, chain, samples=937)
    z_fine, mode_fine, _ = steady_state(fine)
    refined = measure(fine, z_fine, mode_fine)
    result["relative_change_on_finer_event_grid"] = largest_difference(result, refined, keys)
    result["relative_difference_from_runge_kutta"] = runge_kutta_check(circuit, z, mode, result)
    if circuit.chain and circuit.full:
        shifted = steady_state(circuit, split=6.0 * np.arange(circuit.count) ** 2)[:2]
        other = measure(circuit, *shifted)
        shared = [key for key in keys if "current" in key or key.startswith(("charge", "mean_interval"))]
        result["relative_change_of_currents_for_another_split"] = largest_difference(
            result, other, shared
        )
    return {key: plain(value) for key, value in result.items()}


def plain(value):
    """Numbers with 14 significant digits."""
    if np.ndim(value):
        return [plain(v) for v in value]
    return float(f"{value:.14g}")


def tanks(lr, cr, lm, n, r):
    keys = ("resonant_inductance_H", "resonant_capacitance_F", "magnetising_inductance_H")
    keys += ("turns_ratio", "series_resistance_ohm")
    return [dict(zip(keys, values)) for values in zip(lr, cr, lm, n, r)]


# Invented designs: no real product has these values.
DESIGNS = [
    {
        "id": "boost-full-bridge",
        "drive": "full-bridge",
        "rectifier": "full-bridge",
        "input_voltage_V": 310.0,
        "output_voltage_V": 24.0,
        "rectifier_drop_V": 0.0,
        "parts": tanks(
            lr=(6.05e-6, 6.41e-6, 6.27e-6),
            cr=(183.5e-9, 176.2e-9, 186.9e-9),
            lm=(30.1e-6, 32.4e-6, 31.6e-6),
            n=(4.93, 4.88, 4.90),
            r=(0.041, 0.047, 0.038),
        ),
        "flying_capacitance_F": [11.2e-6, 9.6e-6],
        "return_flying_capacitance_F": [10.3e-6, 12.4e-6],
        "chain_frequency_Hz": 120e3,
        "paralleled_frequency_Hz": 119e3,
    },
    {
        "id": "buck-half-bridge",
        "drive": "half-bridge",
        "rectifier": "centre-tap",
        "input_voltage_V": 204.0,
        "output_voltage_V": 12.0,
        "rectifier_drop_V": 0.4,
        "parts": tanks(
            lr=(3.22e-6, 3.01e-6),
            cr=(322e-9, 337e-9),
            lm=(18.4e-6, 19.7e-6),
            n=(3.71, 3.68),
            r=(0.026, 0.023),
        ),
        "flying_capacitance_F": [2.65e-6],
        "chain_frequency_Hz": 188e3,
        "paralleled_frequency_Hz": 186e3,
    },
    {
        "id": "doubler-half-bridge",
        "drive": "half-bridge",
        "rectifier": "voltage-doubler",
        "input_voltage_V": 764.0,
        "output_voltage_V": 200.0,
        "rectifier_drop_V": 0.9,
        "parts": tanks(
            lr=(11.3e-6, 10.8e-6, 11.1e-6, 10.6e-6),
            cr=(118.6e-9, 123.4e-9, 121.1e-9, 116.9e-9),
            lm=(56.2e-6, 60.3e-6, 58.8e-6, 57.1e-6),
            n=(0.936, 0.944, 0.939, 0.941),
            r=(0.093, 0.087, 0.096, 0.084),
        ),
        "flying_capacitance_F": [31e-6, 28.5e-6, 33.2e-6],
        "chain_frequency_Hz": 134e3,
        "paralleled_frequency_Hz": 134e3,
    },
]

NOTE = (
    "Periodic steady states of three invented designs, made with tests/reference/coupled_circuit.py "
    f"(numpy {np.__version__}, scipy {scipy.__version__}): the whole circuit, all phases and flying "
    "capacitors together, by matrix exponentials with refined rectifier events. "
    "Paralleled: the original tanks, each on a bridge across input / N. "
    "Output current: mean rectified current of a phase. Charge: over the phase's own high interval of "
    "the first leg. Currents of a switch: rms over the whole period; the low switch of a return leg "
    "in half bridge, always on, is left out. In a full-bridge chain N-1 combinations of charges are "
    "left unchanged by every period; the steady state given has V(k) - V'(k) equal in all phases. "
    "Accuracy: see the relative_ fields of each result, {accuracy:.0e} at worst."
)


def main():
    cases, worst = [], 0.0
    for design in DESIGNS:
        inputs = {key: value for key, value in design.items() if not key.endswith("_frequency_Hz")}
        results = {
            name: solve(design, design[name + "_frequency_Hz"], name == "chain")
            for name in ("chain", "paralleled")
        }
        for result in results.values():
            worst = max(worst, *(abs(v) for k, v in result.items() if k.startswith("relative_")))
        cases.append(inputs | {"expected": results})
    print(json.dumps({"note": NOTE.format(accuracy=worst), "cases": cases}, indent=1))


if __name__ == "__main__":
    main()
