"""The net desk: a page on this machine only, to run tonight's net and to try changes of it."""
