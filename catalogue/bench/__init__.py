"""The arithmetic of the sink: dilutions, tanks, development, fixing, times and temperatures (pure).

Stored and computed in are millilitres, seconds and °C. Nothing here knows a
product: what a maker's sheet says is handed in, and what is common practice
says so beside the value.
"""
