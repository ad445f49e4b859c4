select measure, line, label from line;
