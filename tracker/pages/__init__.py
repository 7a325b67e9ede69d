"""The pages: ``<name>_view`` decides, ``render`` draws, ``page`` joins them."""
