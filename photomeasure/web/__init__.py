"""The page for pointing at features: one job folder, served to a browser.

Measures nothing by itself: every number comes from `pipeline`, every file goes through
`files`. The page knows no kind of measurement by name; their `needs` make its prompts.
"""
