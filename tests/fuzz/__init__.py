"""Mutated inputs against every command: a seeded stream of them, worker processes with limits, one oracle."""
