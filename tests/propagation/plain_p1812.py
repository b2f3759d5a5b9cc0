"""P.1812 and delta-Bullington written a second time: one path at a time, plain numpy, straight down the text.

The peer of the compiled models: correctness in tests/propagation, speed in tests/bench. It locates
Bullington's edge by its distance, samples the zero profile, and knows nothing of the package's shortcuts.
Heights m above sea level, d in km, f in GHz, angles in mrad. Equation numbers: Rec. ITU-R P.1812-7.
"""

from __future__ import annotations

import numpy as np


def j(nu: float) -> float:  # (12)
    if nu <= -0.78:
        return 0.0
    return 6.9 + 20 * np.log10(np.sqrt((nu - 0.1) ** 2 + 1) + nu - 0.1)


def bullington(d, g, hts, hrs, ap, lam):  # (13) to (21)
    di, gi, total = d[1:-1], g[1:-1], d[-1]
    bulge = 500 / ap * di * (total - di)
    stim = np.max((gi + bulge - hts) / di)
    direct = (hrs - hts) / total
    if stim < direct:
        nu = np.max(
            (gi + bulge - (hts * (total - di) + hrs * di) / total)
            * np.sqrt(0.002 * total / (lam * di * (total - di)))
        )
    else:
        srim = np.max((gi + bulge - hrs) / (total - di))
        dbp = (hrs - hts + srim * total) / (stim + srim)
        nu = (hts + stim * dbp - (hts * (total - dbp) + hrs * dbp) / total) * np.sqrt(
            0.002 * total / (lam * dbp * (total - dbp))
        )
    edge = j(nu)
    return edge + (1 - np.exp(-edge / 6)) * (10 + 0.02 * total)


def first_term(d, ht, hr, a, f, omega, vertical):  # (28) to (36)
    def over(eps, sigma):
        k = 0.036 * (a * f) ** (-1 / 3) * ((eps - 1) ** 2 + (18 * sigma / f) ** 2) ** -0.25
        if vertical:
            k *= (eps**2 + (18 * sigma / f) ** 2) ** 0.5
        beta = (1 + 1.6 * k**2 + 0.67 * k**4) / (1 + 4.5 * k**2 + 1.53 * k**4)
        x = 21.88 * beta * (f / a**2) ** (1 / 3) * d
        fx = 11 + 10 * np.log10(x) - 17.6 * x if x >= 1.6 else -20 * np.log10(x) - 5.6488 * x**1.425

        def gain(h):
            b = beta * 0.9575 * beta * (f**2 / a) ** (1 / 3) * h
            if b > 2:
                value = 17.6 * (b - 1.1) ** 0.5 - 5 * np.log10(b - 1.1) - 8
            else:
                value = 20 * np.log10(b + 0.1 * b**3)
            return max(value, 2 + 20 * np.log10(k))

        return -fx - gain(ht) - gain(hr)

    return omega * over(80, 5) + (1 - omega) * over(22, 0.003)


def spherical(d, ht, hr, ap, f, omega, vertical):  # (22) to (27)
    if d >= np.sqrt(2 * ap) * (np.sqrt(0.001 * ht) + np.sqrt(0.001 * hr)):
        return first_term(d, ht, hr, ap, f, omega, vertical)
    c = (ht - hr) / (ht + hr)
    m = 250 * d**2 / (ap * (ht + hr))
    b = (
        2
        * np.sqrt((m + 1) / (3 * m))
        * np.cos(np.pi / 3 + np.arccos(np.clip(3 * c / 2 * np.sqrt(3 * m / (m + 1) ** 3), -1, 1)) / 3)
    )
    d1 = d / 2 * (1 + b)
    d2 = d - d1
    hse = ((ht - 500 * d1**2 / ap) * d2 + (hr - 500 * d2**2 / ap) * d1) / d
    hreq = 17.456 * np.sqrt(d1 * d2 * 0.2998 / f / d)
    if hse > hreq:
        return 0.0
    aem = 500 * (d / (np.sqrt(ht) + np.sqrt(hr))) ** 2
    return (1 - hse / hreq) * max(first_term(d, ht, hr, aem, f, omega, vertical), 0.0)


def smooth_ends(d, h, hts, hrs):  # (85) to (91)
    total = d[-1]
    step = np.diff(d)
    v1 = np.sum(step * (h[1:] + h[:-1]))
    v2 = np.sum(step * (h[1:] * (2 * d[1:] + d[:-1]) + h[:-1] * (d[1:] + 2 * d[:-1])))
    hst, hsr = (2 * v1 * total - v2) / total**2, (v2 - v1 * total) / total**2
    above = h[1:-1] - (hts * (total - d[1:-1]) + hrs * d[1:-1]) / total
    hobs, at, ar = np.max(above), np.max(above / d[1:-1]), np.max(above / (total - d[1:-1]))
    hstp, hsrp = hst, hsr
    if hobs > 0:
        hstp, hsrp = hst - hobs * at / (at + ar), hsr - hobs * ar / (at + ar)
    return hst, hsr, min(hstp, h[0]), min(hsrp, h[-1])


def delta_bullington(d, g, hts, hrs, hstd, hsrd, ap, f, omega, vertical):  # (37) to (39)
    lam = 0.2998 / f
    actual = bullington(d, g, hts, hrs, ap, lam)
    smooth = bullington(d, np.zeros_like(g), hts - hstd, hrs - hsrd, ap, lam)
    sphere = spherical(d[-1], hts - hstd, hrs - hsrd, ap, f, omega, vertical)
    return actual + max(sphere - smooth, 0.0)


def inverse_normal(x):  # (96) to (98)
    if x > 0.5:
        return -inverse_normal(1 - x)
    t = np.sqrt(-2 * np.log(max(x, 1e-6)))
    c = ((0.010328 * t + 0.802853) * t + 2.515516698) / (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1)
    return t - c


def longest_run(d, inside):
    edges = np.concatenate(([d[0]], (d[1:] + d[:-1]) / 2, [d[-1]]))
    width = np.diff(edges)
    best = run = 0.0
    for here, own in zip(inside, width, strict=True):
        run = run + own if here else 0.0
        best = max(best, run)
    return best, float(np.sum(width[inside]))


def coast_distance(d, zone):
    """Land distance to the sea from the first point, km: 0 at sea, 500 where the path meets none."""
    if not np.any(zone == 1):
        return 500.0
    first = int(np.argmax(zone == 1))
    return 0.0 if first == 0 else (d[first - 1] + d[first]) / 2


def p1812_loss_db(
    *, d, h, clutter, zone, phi, htg, hrg, f, vertical, p=50.0, pl=50.0, sigma=0.0, dn=45.0, n0=325.0
):
    """Basic transmission loss of one path, dB. d km, f GHz; the coasts are where the zones have them."""
    return p1812_parts(
        d=d, h=h, clutter=clutter, zone=zone, phi=phi, htg=htg, hrg=hrg, f=f, vertical=vertical,
        p=p, pl=pl, sigma=sigma, dn=dn, n0=n0,
    )["Lb"]  # fmt: skip


def p1812_parts(*, d, h, clutter, zone, phi, htg, hrg, f, vertical, p, pl, sigma, dn, n0):
    """Every part by the Recommendation's name, and which of its branches the path took ("branches")."""
    g = h + clutter
    g[0], g[-1] = h[0], h[-1]
    total = d[-1]
    hts, hrs = h[0] + htg, h[-1] + hrg
    lam = 0.2998 / f
    ae = 6371 * 157 / (157 - dn)
    omega = round(longest_run(d, zone == 1)[1] / total, 12)  # (49) asks for 0.75, which must not round below
    dtm, dlm = longest_run(d, zone != 1)[0], longest_run(d, zone == 4)[0]
    tau = 1 - np.exp(-4.12e-4 * dlm**2.41)
    dct, dcr = coast_distance(d, zone), coast_distance(d[-1] - d[::-1], zone[::-1])
    mu1 = min((10 ** (-dtm / (16 - 6.6 * tau)) + 10 ** (-5 * (0.496 + 0.354 * tau))) ** 0.2, 1)
    mu4 = mu1 ** (-0.935 + 0.0176 * abs(phi)) if abs(phi) <= 70 else mu1**0.3
    beta0 = (10 ** (-0.015 * abs(phi) + 1.67) if abs(phi) <= 70 else 4.17) * mu1 * mu4
    # Attachment 1
    di, hi = d[1:-1], h[1:-1]
    theta_i = 1000 * np.arctan((hi - hts) / (1000 * di) - di / (2 * ae))
    theta_td = 1000 * np.arctan((hrs - hts) / (1000 * total) - total / (2 * ae))
    theta_t = max(np.max(theta_i), theta_td)
    if np.max(theta_i) > theta_td:
        lt = int(np.argmax(theta_i)) + 1
        theta_j = 1000 * np.arctan((hi - hrs) / (1000 * (total - di)) - (total - di) / (2 * ae))
        theta_r = np.max(theta_j)
        lr = len(d) - 2 - int(np.argmax(theta_j[::-1]))
    else:
        theta_r = 1000 * np.arctan((hts - hrs) / (1000 * total) - total / (2 * ae))
        nu = (hi + 500 / ae * di * (total - di) - (hts * (total - di) + hrs * di) / total) * np.sqrt(
            0.002 * total / (lam * di * (total - di))
        )
        lt = lr = len(d) - 2 - int(np.argmax(nu[::-1]))
    dlt, dlr = d[lt], total - d[lr]
    theta = 1000 * total / ae + theta_t + theta_r
    hst, hsr, hstd, hsrd = smooth_ends(d, h, hts, hrs)
    hst, hsr = min(hst, h[0]), min(hsr, h[-1])
    m = (hsr - hst) / total
    hte, hre = hts - hst, hrs - hsr
    hm = np.max(h[lt : lr + 1] - (hst + m * d[lt : lr + 1]))
    # 4.2
    lbfs = 92.4 + 20 * np.log10(f) + 10 * np.log10(total**2 + ((hts - hrs) / 1000) ** 2)
    lb0p = lbfs + 2.6 * (1 - np.exp(-0.1 * (dlt + dlr))) * np.log10(p / 50)
    lb0b = lbfs + 2.6 * (1 - np.exp(-0.1 * (dlt + dlr))) * np.log10(beta0 / 50)
    # 4.3
    ld50 = delta_bullington(d, g, hts, hrs, hstd, hsrd, ae, f, omega, vertical)
    ldb = delta_bullington(d, g, hts, hrs, hstd, hsrd, 3 * 6371, f, omega, vertical) if p != 50 else ld50
    fi = inverse_normal(p / 100) / inverse_normal(beta0 / 100) if p > beta0 else 1.0
    ldp = ld50 + (ldb - ld50) * fi
    lbd50, lbd = lbfs + ld50, lb0p + ldp
    # 4.4
    lf = 25 * np.log10(f) - 2.5 * np.log10(f / 2) ** 2
    lbs = 190.1 + lf + 20 * np.log10(total) + 0.573 * theta - 0.15 * n0 - 10.125 * np.log10(50 / p) ** 0.7

    # 4.5
    def shielding(angle, horizon):
        above = angle - 0.1 * horizon
        if above <= 0:
            return 0.0
        return 20 * np.log10(1 + 0.361 * above * np.sqrt(f * horizon)) + 0.264 * above * f ** (1 / 3)

    def over_sea(coast, horizon, antenna):
        if omega >= 0.75 and coast <= horizon and coast <= 5:
            return -3 * np.exp(-0.25 * coast**2) * (1 + np.tanh(0.07 * (50 - antenna)))
        return 0.0

    alf = 45.375 - 137 * f + 92.5 * f**2 if f < 0.5 else 0.0
    af = (
        102.45 + 20 * np.log10(f) + 20 * np.log10(dlt + dlr) + alf
        + shielding(theta_t, dlt) + shielding(theta_r, dlr)
        + over_sea(dct, dlt, hts) + over_sea(dcr, dlr, hrs)
    )  # fmt: skip
    angle = 1000 * total / ae + min(theta_t, 0.1 * dlt) + min(theta_r, 0.1 * dlr)
    mu3 = np.exp(-4.6e-5 * (hm - 10) * (43 + 6 * min(total - dlt - dlr, 40))) if hm > 10 else 1.0
    alpha = max(-0.6 - 3.5e-9 * total**3.1 * tau, -3.4)
    mu2 = min((500 * total**2 / (ae * (np.sqrt(hte) + np.sqrt(hre)) ** 2)) ** alpha, 1)
    beta = beta0 * mu2 * mu3
    lg = np.log10(beta)
    gamma = 1.076 / (2.0058 - lg) ** 1.012 * np.exp(-(9.51 - 4.8 * lg + 0.198 * lg**2) * 1e-6 * total**1.13)
    ap = -12 + (1.2 + 3.7e-3 * total) * np.log10(p / beta) + 12 * (p / beta) ** gamma
    lba = af + 5e-5 * ae * f ** (1 / 3) * angle + ap
    # 4.6
    fj = 1 - 0.5 * (1 + np.tanh(3 * 0.8 * (theta - 0.3) / 0.3))
    fk = 1 - 0.5 * (1 + np.tanh(3 * 0.5 * (total - 20) / 20))
    if p < beta0:
        lminb0p = lb0p + (1 - omega) * ldp
    else:
        lminb0p = lbd50 + (lb0b + (1 - omega) * ldp - lbd50) * fi
    lminbap = 2.5 * np.logaddexp(lba / 2.5, lb0p / 2.5)
    lbda = lbd if lminbap > lbd else lminbap + (lbd - lminbap) * fk
    lbam = lbda + (lminb0p - lbda) * fj
    lbc = -5 * np.log10(10 ** (-0.2 * lbs) + 10 ** (-0.2 * lbam))
    lloc = 0.0 if pl == 50 or zone[-1] == 1 else -inverse_normal(pl / 100) * sigma
    above = h[1:-1] - (hts * (total - d[1:-1]) + hrs * d[1:-1]) / total  # (89d)
    branches = {
        "LoS": lt == lr and not np.max(theta_i) > theta_td,
        "trans-horizon": np.max(theta_i) > theta_td,
        "above 70 degrees": abs(phi) > 70,
        "mu1 of 1": mu1 == 1,
        "mu2 of 1": mu2 == 1,
        "alpha at -3.4": alpha == -3.4,
        "rough, mu3": hm > 10,
        "dI of 40 km": total - dlt - dlr > 40,
        "transmitter's coast": over_sea(dct, dlt, hts) < 0,
        "receiver's coast": over_sea(dcr, dlr, hrs) < 0,
        "transmitter shielded": shielding(theta_t, dlt) > 0,
        "receiver shielded": shielding(theta_r, dlr) > 0,
        "all sea": omega == 1,
        "some sea": 0 < omega < 1,
        "receiver at sea": zone[-1] == 1,
        "p below beta0": p < beta0,
        "p above beta0, below 50": beta0 < p < 50,
        "f from 0.5 GHz": f >= 0.5,
        "ducting, (61)": lminbap <= lbd,
        "troposcatter within 3 dB": lbs < lbam + 3,
        "Lb0p, (69)": lb0p > lbc + lloc,
        "terrain above the line, (90)": np.max(above) > 0,
        "smooth Earth counts, (39)": ld50 > bullington(d, g, hts, hrs, ae, lam),
    }
    return {
        "Lb": float(max(lb0p, lbc + lloc)), "Lba": lba, "Lbs": lbs, "Ldp": ldp, "Lminb0p": lminb0p,
        "branches": {name for name, taken in branches.items() if taken},
    }  # fmt: skip
