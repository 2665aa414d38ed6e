"""Where plans meet the shop's memory: setups entered, jaws found, chucks watched, starts decided and recorded."""
