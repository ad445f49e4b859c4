select measure, from_line, to_line, shift_se, n_pairs from bridge where usable;
