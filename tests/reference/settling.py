"""Brute-force reference for how the flying capacitors of a chain settle.

The whole circuit of coupled_circuit.py, all phases and flying capacitors together, is integrated
period after period from its steady state with one flying-capacitor place disturbed; both legs of a
full bridge alike in charge, so that no neutral mode is excited. Rectifier events happen when they
happen: nothing is linearised. The linear map that best takes each disturbed state to the one a period
later (least squares over all snapshots, truncated where rounding begins) has the modes of the
settling as its eigenvalues. The slowest one is the result; as a check it is compared with that of the
derivative of one period, and with the slope of the logarithm of the disturbance's energy.

Usage: python3 settling.py > ../data/settling.json     (numpy and scipy needed; a minute)
"""

import json

import numpy as np
import scipy

import coupled_circuit as cc

DISTURBANCE_V = 0.02
SNAPSHOTS = 90
# Of the largest singular value: below it snapshots hold rounding alone.
KEPT = 1e-6


def equal(count, lr, cr, lm, n, r, spread):
    """Tanks about given values, each part off by its own multiple of a spread."""
    off = lambda value, part: [
        value * (1 + spread * ((7 * k + 3 * part) % 5 - 2) / 2) for k in range(count)
    ]
    return cc.tanks(*(off(value, part) for part, value in enumerate((lr, cr, lm, n, r))))


# Invented designs: no real product has these values.
DESIGNS = [design | {"frequency_Hz": design["chain_frequency_Hz"]} for design in cc.DESIGNS] + [
    {
        "id": "two-phase half bridge near resonance",
        "drive": "half-bridge",
        "rectifier": "full-bridge",
        "input_voltage_V": 400.0,
        "output_voltage_V": 24.0,
        "rectifier_drop_V": 0.5,
        "parts": equal(2, 20e-6, 80e-9, 90e-6, 4.0, 0.1, 0.002),
        "flying_capacitance_F": [5e-6],
        "frequency_Hz": 125.3e3,
    },
    {
        "id": "four-phase half bridge near resonance",
        "drive": "half-bridge",
        "rectifier": "centre-tap",
        "input_voltage_V": 800.0,
        "output_voltage_V": 24.6,
        "rectifier_drop_V": 0.4,
        "parts": equal(4, 21e-6, 77e-9, 95e-6, 4.0, 0.12, 0.0004),
        "flying_capacitance_F": [7e-6, 6e-6, 5.5e-6],
        "frequency_Hz": 124.4e3,
    },
    {
        "id": "three-phase full bridge above resonance",
        "drive": "full-bridge",
        "rectifier": "full-bridge",
        "input_voltage_V": 380.0,
        "output_voltage_V": 48.0,
        "rectifier_drop_V": 0.7,
        "parts": equal(3, 4.56e-6, 247e-9, 22.8e-6, 2.4, 0.03, 0.02),
        "flying_capacitance_F": [50e-6, 46e-6],
        "return_flying_capacitance_F": [53e-6, 49e-6],
        "frequency_Hz": 172e3,
    },
    {
        "id": "five-phase full bridge, small capacitors",
        "drive": "full-bridge",
        "rectifier": "voltage-doubler",
        "input_voltage_V": 700.0,
        "output_voltage_V": 104.0,
        "rectifier_drop_V": 0.8,
        "parts": equal(5, 8.2e-6, 150e-9, 44e-6, 2.4, 0.06, 0.03),
        "flying_capacitance_F": [1.1e-6, 0.9e-6, 1.2e-6, 1.0e-6],
        "return_flying_capacitance_F": [1.0e-6, 1.1e-6, 0.8e-6, 1.2e-6],
        "frequency_Hz": 172e3,
    },
    {
        "id": "six-phase half bridge below resonance",
        "drive": "half-bridge",
        "rectifier": "full-bridge",
        "input_voltage_V": 900.0,
        "output_voltage_V": 22.5,
        "rectifier_drop_V": 0.5,
        "parts": equal(6, 18e-6, 90e-9, 80e-6, 3.4, 0.15, 0.03),
        "flying_capacitance_F": [8e-6, 7e-6, 9e-6, 8.5e-6, 6.5e-6],
        "frequency_Hz": 108e3,
    },
]


def energy_scale(c):
    """Square roots of the inductances and capacitances behind each state."""
    legs = [np.sqrt(leg) for leg in c.legs]
    return np.concatenate([np.sqrt(c.lr), np.sqrt(c.cr), np.sqrt(c.lm), *legs])


def disturbances(c):
    """One for each place of the chain: charges in both legs alike."""
    for k in range(1, c.count):
        x = np.zeros(c.size)
        for leg, capacitance in enumerate(c.legs):
            x += c.flying(leg, k) * DISTURBANCE_V * c.legs[0][k - 1] / capacitance[k - 1]
        yield x


def disturbed(c, z, mode, disturbance):
    """The disturbance period after period, in energy-scaled states."""
    at, signs, scale = z + disturbance, mode, energy_scale(c)
    for _ in range(SNAPSHOTS):
        yield (at - z)[:-1] * scale
        at, signs = cc.one_period(c, at, signs)[:2]


def slowest_of(matrix):
    """The eigenvalue of largest modulus, of a pair the one above the real axis."""
    values = np.linalg.eigvals(matrix)
    value = values[np.argmax(np.abs(values))]
    return complex(value.real, abs(value.imag))


def fitted(tracks):
    """The slowest mode of the map that takes each snapshot to the next one."""
    before = np.hstack([np.array(t[:-1]).T for t in tracks])
    after = np.hstack([np.array(t[1:]).T for t in tracks])
    u, s, vt = np.linalg.svd(before, full_matrices=False)
    rank = int((s > KEPT * s[0]).sum())
    u, s, vt = u[:, :rank], s[:rank], vt[:rank]
    return slowest_of(u.T @ after @ vt.T / s)


def of_derivative(c, z, mode):
    """The slowest mode that decays, of the derivative of one period."""
    m = cc.one_period(c, z, mode)[2][:-1, :-1]
    values = np.linalg.eigvals(m)
    values = values[np.argsort(np.abs(values - 1))]
    neutral = c.count - 1 if c.full else 0
    assert np.all(np.abs(values[:neutral] - 1) < 1e-7), values[:neutral]
    moduli = np.sort(np.abs(values[neutral:]))[::-1]
    return moduli


def solve(design):
    c = cc.Circuit(design, design["frequency_Hz"], True)
    z, mode, residual = cc.steady_state(c)
    currents = cc.measure(c, z, mode)
    tracks = [list(disturbed(c, z, mode, x)) for x in disturbances(c)]
    slowest = fitted(tracks)
    moduli = of_derivative(c, z, mode)
    energy = np.array([[x @ x for x in t] for t in tracks]).sum(axis=0)
    tail = slice(SNAPSHOTS // 2, SNAPSHOTS)
    slope = np.polyfit(np.arange(SNAPSHOTS)[tail], np.log(energy[tail]) / 2, 1)[0]
    return {
        "switching_frequency_Hz": design["frequency_Hz"],
        "total_output_current_A": currents["total_output_current_A"],
        "slowest_mode": [slowest.real, slowest.imag],
        "slowest_modulus": abs(slowest),
        "moduli_of_the_derivative": moduli,
        "neutral_modes": c.count - 1 if c.full else 0,
        "decay_of_the_energy_per_period": 1 - np.exp(slope),
        "relative_period_residual": residual,
    }


NOTE = (
    "How the flying capacitors of invented designs settle, made with tests/reference/settling.py "
    f"(numpy {np.__version__}, scipy {scipy.__version__}): the whole circuit integrated from disturbed "
    "states without linearisation. slowest_mode: real and imaginary part of the factor by which the "
    "slowest mode changes in one period, fitted to the snapshots. moduli_of_the_derivative: of all "
    "modes that decay, from the derivative of one period carried along exactly."
)


def main():
    cases = []
    for design in DESIGNS:
        inputs = {key: value for key, value in design.items() if not key.endswith("frequency_Hz")}
        expected = {key: cc.plain(value) for key, value in solve(design).items()}
        cases.append(inputs | {"expected": expected})
    print(json.dumps({"note": NOTE, "cases": cases}, indent=1))


if __name__ == "__main__":
    main()
