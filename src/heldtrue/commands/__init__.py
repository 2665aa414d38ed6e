"""The commands, one module for each part of the job: parse, call one service, render."""
