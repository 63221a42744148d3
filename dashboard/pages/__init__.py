"""The pages: now, past cooks, one cook replayed.

Each has ``TITLE`` and ``layout``, which gives a ``parts.Page`` for every visit: once as plain HTML, once for Dash.
"""
