"""The notebook: every chip that was measured, and what can be asked of it years later.

database.py the file and its entries; schema.py tables and migrations; trouble.py what goes wrong and its sentences;
rescue.py a damaged log; history.py spread and drift; export.py CSV, JSON, HTML.

SPDX-License-Identifier: MIT
"""
