"""What fits: mixed models, meta-analysis, clusters, and the rule for the interval that is printed."""
