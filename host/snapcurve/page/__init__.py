"""The page at the bench: one screen to be read from two metres, and the day's work in a browser.

This process keeps the boards, shows them and hands on what is pressed. All else is done by the
very commands a person would type, each in a process of its own (`errands`): so the page and the
command line cannot differ, and neither a sheet that takes its time nor a damaged picture can hold
up a reading.
"""
