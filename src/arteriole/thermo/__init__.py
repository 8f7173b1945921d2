"""Transit curves: bolus and continuous thermodilution, arrays in, readings out."""
