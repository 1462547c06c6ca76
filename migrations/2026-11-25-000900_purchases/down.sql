DROP TABLE purchase_line_treatments, purchase_lines;
