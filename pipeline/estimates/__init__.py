"""Estimates by question: frames in, tidy frames out. No SQL, no files, and R only through `engines.mixed`, in
`lme4_fits`.
"""
