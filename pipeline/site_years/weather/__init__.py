"""What a site-year's weather was to its nitrogen: rain after it, water the soil could not hold, warmth, release. Sees
no yields.
"""
