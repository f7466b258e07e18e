"""Reports: an explanation as text for a terminal, as Markdown, and as JSON.

Takes an `Explanation` (and a `Reduction` for its ledger), gives text. It rounds nothing and decides nothing: what is
said was settled before, numbers are printed by `topo.quantities`. It must not know where the text goes.
"""
