"""An unknown gauge: what came, which known profile it fits, or a draft for a new one. Pure.

`hearing` says how to listen and holds what was heard; `scoring` holds it against profiles;
`silence` says why nothing came of it; `draft` writes what a new profile could begin from.
"""
