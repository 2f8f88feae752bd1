"""The modelled installation again, in plain Python, integrated by scipy's solve_ivp (LSODA).

Reads one JSON object (the work, see work.rs) from standard input, writes one with times and levels to standard output.
Units are SI, free air at 100 kPa and 20 C. Every solve starts from the last answer, as in the program.
"""

import json
import math
import sys
import time

import numpy
import scipy
from scipy.integrate import solve_ivp

G = 9.80665
FREE_AIR_PA, FREE_AIR_K, AIR = 100000.0, 293.15, 287.055
FREE_AIR_KG_M3 = FREE_AIR_PA / (AIR * FREE_AIR_K)
GAUSS = 1.0 / math.sqrt(3.0)
LINEAR_BELOW = 0.005  # share of the pressure below which a valve's law is straight
TIGHT = 1e-9


def darcy(re):
    """Factor of a smooth pipe and d ln f / d ln Re: 64/Re, Haaland, a straight blend from 2000 to 4000."""
    if re < 2000.0:
        return 64.0 / max(re, 1.0), -1.0
    log = math.log(6.9 / re)
    factor = 1.0 / (1.8 * math.log10(math.e) * log) ** 2
    slope = 2.0 / log
    if re >= 4000.0:
        return factor, slope
    share = (re - 2000.0) / 2000.0
    laminar = 64.0 / re
    mixed = laminar + share * (factor - laminar)
    rise = (factor - laminar) * re / 2000.0 - (1.0 - share) * laminar + share * factor * slope
    return mixed, rise / mixed


class Riser:
    """Steady isothermal two-phase column, marched in pressure."""

    def __init__(self, told, place):
        self.rho, self.atm = place["water_kg_m3"], place["p_atm_pa"]
        self.area = math.pi / 4.0 * told["bore_m"] ** 2
        self.c0 = told["distribution"]
        self.drift = min(0.35 * math.sqrt(G * told["bore_m"]), 0.43) * told["slip"]
        self.entrance = told["kin"] * told["loss"] + told["fouling_k"]
        self.exit = told["kout"] * told["loss"]
        kelvin = place["water_c"] + 273.15
        self.per_air = FREE_AIR_PA * kelvin / FREE_AIR_K / self.area
        self.air_density = 1.0 / (AIR * kelvin)
        self.re = self.rho * told["bore_m"] / place["water_pa_s"]
        self.wall = told["friction"] * self.rho / (2.0 * told["bore_m"])
        self.cells = told["cells"]
        self.last = 0.0

    def march(self, jl, gas, supply, length):
        rho, c0, per_pa = self.rho, self.c0, self.air_density
        top_gas = gas / self.atm
        top = self.atm + 0.5 * self.exit * rho * jl * (jl + top_gas)
        top_slope = 0.5 * self.exit * rho * (2.0 * jl + top_gas)
        base = supply - 0.5 * rho * jl * jl * (1.0 + self.entrance) - rho * jl * top_gas
        base_slope = -rho * (jl * (1.0 + self.entrance) + top_gas)
        each = 1.0 / self.cells
        step = (base - top) * each
        total = slope = 0.0
        for cell in range(self.cells):
            for side in (-GAUSS, GAUSS):
                way = (cell + 0.5 + 0.5 * side) * each
                p = top + (base - top) * way
                p_slope = top_slope + (base_slope - top_slope) * way
                jg = gas / p
                j = jl + jg
                under = c0 * j + self.drift
                void = jg / under
                lighter = rho - p * per_pa
                factor, bent = darcy(self.re * j)
                wall = self.wall * factor
                fall = G * (rho - lighter * void) + wall * jl * j
                bend = wall * jl * bent
                by_speed = G * lighter * void * c0 / under + wall * (jl + j) + bend
                jg_p = -jg / p
                void_p = jg_p * (c0 * jl + self.drift) / (under * under)
                by_p = G * (per_pa * void - lighter * void_p) + (wall * jl + bend) * jg_p
                inverse = 1.0 / fall
                total += inverse
                slope -= inverse * inverse * (by_speed + by_p * p_slope)
        spare = 0.5 * step * total - length
        return spare, 0.5 * (step * slope + (base_slope - top_slope) * each * total)

    def water(self, submergence, lift, air, tolerance=TIGHT):
        if submergence <= 0.0:
            self.last = 0.0
            return 0.0
        gas = max(air, 0.0) * self.per_air
        length = max(submergence + lift, 1e-3)
        supply = self.atm + self.rho * G * submergence
        top_gas = gas / self.atm
        drive = (supply - self.atm) / self.rho
        square = 0.5 * (1.0 + self.entrance + self.exit)
        linear = top_gas * (1.0 + 0.5 * self.exit)
        low, high = 0.0, 2.0 * drive / (linear + math.sqrt(linear * linear + 4.0 * square * drive))
        speed, checked = self.last, False
        if not 0.0 < speed < high:
            if self.march(0.0, gas, supply, length)[0] <= 0.0:
                return 0.0
            speed, checked = 0.4 * high, True
        for _ in range(60):
            spare, slope = self.march(speed, gas, supply, length)
            if spare > 0.0:
                low = speed
            else:
                high = speed
            following = speed - spare / slope
            # Newton doubles its digits: a move of the root of what is asked is within it afterwards.
            if abs(following - speed) <= math.sqrt(tolerance) * speed and following > 0.0:
                self.last = following
                return following * self.area
            if not low < following < high:
                if not checked and low == 0.0:
                    if self.march(0.0, gas, supply, length)[0] <= 0.0:
                        self.last = 0.0
                        return 0.0
                    checked = True
                following = 0.5 * (low + high)
            speed = following
            if speed < 1e-9:
                self.last = 0.0
                return 0.0
        self.last = speed
        return speed * self.area


class Branch:
    """Valve (ISO 6358), line and diffuser of one lift."""

    def __init__(self, told, place):
        self.__dict__.update(told)
        self.atm, self.rho = place["p_atm_pa"], place["water_kg_m3"]
        self.kelvin = place["water_c"] + 273.15
        self.line_area = math.pi / 4.0 * told["line_bore_m"] ** 2
        self.re = 4.0 * FREE_AIR_KG_M3 / (math.pi * told["line_bore_m"] * place["air_pa_s"])
        self.sonic = 0.0

    def set_opening(self, opening):
        x = min(max(opening, 0.0), 1.0)
        if self.rangeability is None:
            share = x
        else:
            share = self.rangeability ** (max(x, self.dead_travel) - 1.0)
            if x < self.dead_travel:
                share *= x / self.dead_travel
            elif x <= 0.0:
                share = 0.0
        self.sonic = self.sonic_open * (self.leak + (1.0 - self.leak) * share)

    def starts(self, submergence):
        return self.atm + self.rho * G * max(submergence, 0.0) + self.opening_pa

    def need(self, q, starts):
        """Manifold pressure for a flow, and its slope."""
        part = self.loss_pa / (self.at_m3_s * self.at_m3_s) * q
        p, slope = starts + part * q, 2.0 * part
        if q > 0.0:
            mass = q * FREE_AIR_KG_M3
            factor, bent = darcy(self.re * q)
            wall = factor * self.line_length_m / self.line_bore_m
            density = p / (AIR * self.kelvin)
            dynamic = 0.5 * mass * mass / (density * self.line_area**2) * self.line_multiplier
            loss = (wall + self.line_minor) * dynamic
            steeper = ((2.0 + bent) * wall + 2.0 * self.line_minor) * dynamic / q
            slope += steeper - loss / p * slope
            p += loss
        b = self.critical_ratio
        per_q = math.sqrt(self.kelvin / FREE_AIR_K) / self.sonic
        sonic_pa = q * per_q
        width, edge = 1.0 - b, 1.0 - LINEAR_BELOW
        straight = LINEAR_BELOW / math.sqrt(1.0 - ((edge - b) / width) ** 2)
        above = p + sonic_pa * straight
        if p >= edge * above:
            return above, slope + per_q * straight
        if p <= b * sonic_pa:
            return sonic_pa, per_q
        k = sonic_pa / p * width
        under = 1.0 + k * k
        ratio = (b + math.sqrt(b * b - under * (2.0 * b - 1.0))) / under
        level = (ratio - b) / width
        share = math.sqrt(1.0 - level * level)
        share_slope = -level / (width * share)
        return p / ratio, (per_q - share_slope * slope) / (share - ratio * share_slope)


def v_notch(told, _place):
    crest, angle = told["crest_m"], told["angle_deg"]
    if abs(angle - 90.0) < 0.5:
        ce, kh = 0.578, 0.85e-3
    else:
        ce = 0.607165052 + angle * (-0.000874466963 + angle * 6.10393334e-6)
        kh = 0.3048 * (
            0.0144902648 + angle * (-0.00033955535 + angle * (3.29819003e-6 - angle * 1.06215442e-8))
        )
    scale = 8.0 / 15.0 * ce * math.tan(math.radians(angle) / 2.0) * math.sqrt(2.0 * G)

    def flow(level, below):
        head = level - crest
        if head <= 0.0:
            return 0.0
        h = head + kh * min(head / (2.0 * kh), 1.0)
        return scale * h * h * math.sqrt(h) * drowned(head, below - crest, 2.5)

    return flow


def drowned(up, down, power):
    if down <= 0.0:
        return 1.0
    if down >= up:
        return 0.0
    return (1.0 - (down / up) ** power) ** 0.385


def standpipe(told, _place):
    crest, bore = told["crest_m"], told["bore_m"]
    weir_of = 1.8385 * math.pi * bore
    hole_of = 0.6 * math.pi / 4.0 * bore * bore * math.sqrt(2.0 * G)

    def flow(level, below):
        head = level - crest
        if head <= 0.0:
            return 0.0
        down = below - crest
        weir = weir_of * head * math.sqrt(head) * drowned(head, down, 1.5)
        hole = hole_of * math.sqrt(max(head - max(down, 0.0), 0.0))
        band = 0.1 * (weir + hole)
        near = max(band - abs(weir - hole), 0.0)
        least = min(weir, hole)
        return least - 0.25 * near * near / band if near > 0.0 else least

    return flow


def pipe(told, place):
    entry, end, bore = told["entry_m"], told["end_m"], told["bore_m"]
    ratio, minor = told["length_m"] / bore, told["minor_loss"] + 1.0
    re_of, area = place["water_kg_m3"] * bore / place["water_pa_s"], math.pi / 4.0 * bore * bore
    rough = 1.5e-6 / bore

    def speed_at(head):
        drive = 2.0 * G * head
        speed = math.sqrt(drive / (0.02 * ratio + minor))
        inverse = 7.0
        for _ in range(60):
            re = re_of * speed
            if re > 4000.0:
                inverse = -2.0 * math.log10(rough / 3.7 + 2.51 * inverse / re)
                factor, bent = 1.0 / (inverse * inverse), -0.2
            else:
                factor, bent = darcy(re)
                bent = max(bent, -1.0)
            wall = factor * ratio
            miss = (wall + minor) * speed * speed - drive
            rise = ((2.0 + bent) * wall + 2.0 * minor) * speed
            following = min(max(speed - miss / rise, 0.2 * speed), 3.0 * speed)
            if abs(following - speed) < 1e-6 * following:
                return following
            speed = following
        return speed

    def flow(level, below):
        head = level - max(below, end)
        cover = min((level - entry) / bore, 1.0)
        if head <= 0.0 or cover <= 0.0:
            return 0.0
        return cover * cover * (3.0 - 2.0 * cover) * area * speed_at(head)

    return flow


LAWS = {"v_notch": v_notch, "standpipe": standpipe, "pipe": pipe}


class Plant:
    """Rates of all tank volumes at given levels and openings."""

    def __init__(self, work):
        place = work["place"]
        self.place, self.tanks = place, work["tanks"]
        self.lifts = work["lifts"]
        self.risers = [Riser(lift["riser"], place) for lift in self.lifts]
        self.branches = [Branch(lift["air"], place) for lift in self.lifts]
        self.points = work["blower"]["points"]
        self.air = [0.0] * len(self.lifts)
        self.gauge = 0.7 * self.points[0][1]
        self.outlets = [
            (o["from"], o["to"], o["step_m"], o["coefficient"], LAWS[o["law"]["kind"]](o["law"], place))
            for o in work["outlets"]
        ]
        self.evals = 0

    def set_openings(self, openings):
        for branch, opening in zip(self.branches, openings):
            branch.set_opening(opening)

    def blower(self, gauge):
        points = self.points
        for piece in range(len(points) - 1):
            (q0, p0), (q1, p1) = points[piece], points[piece + 1]
            if gauge >= p1 or piece == len(points) - 2:
                slope = (q1 - q0) / (p1 - p0)
                return max(q0 + slope * (gauge - p0), 0.0), slope, piece

    def settle_air(self, starts):
        top = self.points[0][1]
        for _ in range(50):
            p = self.place["p_atm_pa"] + self.gauge
            give, give_slope, piece = self.blower(self.gauge)
            take = slope = 0.0
            lines = []
            for branch, start, q in zip(self.branches, starts, self.air):
                line = (0.0, 0.0)
                if branch.sonic > 0.0 and (q > 0.0 or p > start):
                    need, steep = branch.need(q, start)
                    line = (q + (p - need) / steep, 1.0 / steep)
                    if line[0] > 0.0:
                        take += line[0]
                        slope += line[1]
                lines.append(line)
            gauge = min(max(self.gauge + (give - take) / (slope - give_slope), 0.0), top)
            step = gauge - self.gauge
            following = [max(at + rise * step, 0.0) for at, rise in lines]
            moved = max(abs(a - b) for a, b in zip(following, self.air))
            total = 1e-9 + sum(following)
            self.gauge, self.air = gauge, following
            if abs(step) <= 1e-5 * gauge and moved <= 1e-5 * total and self.blower(gauge)[2] == piece:
                return
        raise ArithmeticError("the manifold does not settle")

    def rates(self, _t, volumes):
        self.evals += 1
        levels = [v / tank["area_m2"] for v, tank in zip(volumes, self.tanks)]
        starts, heads = [], []
        for lift, branch in zip(self.lifts, self.branches):
            source = levels[lift["from"]]
            receiving = levels[lift["to"]] + lift["step_m"]
            submergence = source - lift["injector_m"]
            heads.append((submergence, max(receiving, lift["outlet_m"]) - source))
            starts.append(branch.starts(submergence))
        self.settle_air(starts)
        rates = [tank["inflow_m3_s"] - tank["evaporation_m3_s"] for tank in self.tanks]
        for lift, riser, air, head in zip(self.lifts, self.risers, self.air, heads):
            water = riser.water(head[0], head[1], air)
            rates[lift["from"]] -= water
            rates[lift["to"]] += water
        for source, to, step_m, coefficient, law in self.outlets:
            below = -math.inf if to is None else levels[to] + step_m
            flow = coefficient * law(levels[source], below)
            rates[source] -= flow
            if to is not None:
                rates[to] += flow
        return rates


def controlled(work, rtol, atol):
    """One call a second: the controller may move a valve in each."""
    plant = Plant(work)
    volumes, levels = list(work["start_m3"]), []
    began = time.perf_counter()
    for openings in work["openings"]:
        plant.set_openings(openings)
        answer = solve_ivp(plant.rates, (0.0, 1.0), volumes, method="LSODA", rtol=rtol, atol=atol, first_step=1.0)
        if not answer.success:
            raise ArithmeticError(answer.message)
        volumes = [float(v) for v in answer.y[:, -1]]
        levels.append(volumes)
    return time.perf_counter() - began, plant.evals, levels


def still(work, rtol, atol):
    """One call for all: nothing moves."""
    plant = Plant(work)
    plant.set_openings(work["openings"][0])
    at = numpy.arange(1, work["samples"] + 1) * float(work["sample_s"])
    began = time.perf_counter()
    answer = solve_ivp(
        plant.rates, (0.0, at[-1]), work["start_m3"], method="LSODA", rtol=rtol, atol=atol, t_eval=at
    )
    if not answer.success:
        raise ArithmeticError(answer.message)
    return time.perf_counter() - began, plant.evals, answer.y.T.tolist()


def main():
    work = json.load(sys.stdin)
    unknown = {o["law"]["kind"] for o in work["outlets"]} - set(LAWS)
    if unknown:
        raise SystemExit("no such outlet in the script: " + ", ".join(sorted(unknown)))
    run = still if work["still"] else controlled
    out = []
    areas = [tank["area_m2"] for tank in work["tanks"]]
    for rtol in work["tolerances"]:
        took, evals, volumes = run(work, rtol, rtol * work["atol_of_rtol_m3"])
        out.append({"tolerance": rtol, "took_s": took, "evals": evals, "volumes_m3": volumes})
        pairs = zip(volumes, work["reference_m3"])
        if max(abs(v - w) / a for row, true in pairs for v, w, a in zip(row, true, areas)) <= work["good_m"]:
            break
    json.dump({"scipy": scipy.__version__, "python": sys.version.split()[0], "runs": out}, sys.stdout)


main()
