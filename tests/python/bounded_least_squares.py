"""Bounded least squares by SciPy: reads problems, one JSON object a line, and writes their solutions."""

import json
import sys

import numpy as np
from scipy.optimize import lsq_linear

for line in sys.stdin:
    problem = json.loads(line)
    a, b = np.array(problem["a"]), np.array(problem["b"])
    lower, upper = np.array(problem["lower"]), np.array(problem["upper"])
    # SciPy asks for bounds that are apart.
    found = lsq_linear(a, b, bounds=(lower, upper), method="bvls", tol=1e-14, lsq_solver="exact", max_iter=1000)
    print(json.dumps({"x": found.x.tolist(), "cost": float(found.cost), "status": int(found.status)}))
