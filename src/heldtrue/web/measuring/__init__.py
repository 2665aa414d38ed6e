"""Grip of a chuck by a turned ring and a dial, friction of jaws on a part by a torque wrench or a scale."""
