"""Samples what a batch's unknowns are, by emcee's affine-invariant ensemble sampler.

Foreman-Mackey and others 2013, emcee: The MCMC Hammer, PASP 125:306-312. The log density is asked for: one line out with a
JSON list of draws, one line in with a JSON list of numbers. The last line out is the answer: means, standard deviations and
the chain's autocorrelation times in steps.
"""

import json
import sys

import emcee
import numpy as np

UNKNOWNS, WALKERS, BURN_IN, STEPS = 5, 40, 400, 1600


def log_density(draws):
    print(json.dumps(draws.tolist()), flush=True)
    return np.array(json.loads(sys.stdin.readline()))


def main():
    np.random.seed(int(sys.argv[1]))
    start = 0.5 * np.random.standard_normal((WALKERS, UNKNOWNS))
    sampler = emcee.EnsembleSampler(WALKERS, UNKNOWNS, log_density, vectorize=True)
    state = sampler.run_mcmc(start, BURN_IN)
    sampler.reset()
    sampler.run_mcmc(state, STEPS)
    chain = sampler.get_chain(flat=True)
    answer = {
        "mean": chain.mean(axis=0).tolist(),
        "deviation": chain.std(axis=0).tolist(),
        "autocorrelation_steps": sampler.get_autocorr_time(tol=0).tolist(),
        "accepted": float(np.mean(sampler.acceptance_fraction)),
    }
    print(json.dumps({"answer": answer}), flush=True)


if __name__ == "__main__":
    main()
