"""live/: the live page: what its sliders hold, the joint solved behind them, and the pages that show it."""
