"""The pages beside a component's sheet: handlings compared, overview, smell and taste, storage times, card, dossier.

Each kind has a composer (findings in, ready words out); leaflets share one template, and all share the sheet's frame.
"""
