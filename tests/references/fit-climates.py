"""Fit simulator/plant/climates.ts to an hourly series (station,time,T_C,RH_pct,Td_C,P_hPa), given as the first argument.

Temperature and dew-point depression are each: mean + one yearly wave + one daily wave whose size itself has a yearly
wave + first-order autoregressive noise. Least squares; the noise's coefficient is the lag-1 correlation of the rest.
"""
import csv, gzip, sys, json
import numpy as np

rows = {}
for r in csv.DictReader(gzip.open(sys.argv[1], 'rt')):
    if r['T_C'] == '':
        continue
    t = float(r['T_C'])
    if r['Td_C']:
        td = float(r['Td_C'])
    else:
        g = np.log(max(1.0, float(r['RH_pct'])) / 100) + 17.62 * t / (243.12 + t)
        td = float(243.12 * g / (17.62 - g))
    rows.setdefault(r['station'], []).append((t, td))

def fit(v):
    h = np.arange(len(v)); y = 2 * np.pi * h / 8760; d = 2 * np.pi * h / 24
    X = np.column_stack([np.ones_like(y), np.cos(y), np.sin(y), np.cos(d), np.sin(d), np.cos(y) * np.cos(d), np.cos(y) * np.sin(d)])
    b, *_ = np.linalg.lstsq(X, v, rcond=None)
    e = v - X @ b
    phi = float(np.corrcoef(e[1:], e[:-1])[0, 1])
    return [round(float(x), 3) for x in b], round(phi, 4), round(float(e.std() * np.sqrt(1 - phi * phi)), 3)

for name, v in rows.items():
    a = np.array(v)
    print(json.dumps({'station': name, 'hours': len(a), 'temperature': fit(a[:, 0]), 'depression': fit(np.maximum(0, a[:, 0] - a[:, 1]))}))
