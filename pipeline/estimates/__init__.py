"""Estimates: frames in, tidy frames out. No SQL, no files, and R only through `mixed`, in `lme4_fits`."""
