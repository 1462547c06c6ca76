//! Plain-text tables, readable on a terminal, in an e-mail and on paper.

use super::{Holds, Table};

#[cfg(test)]
mod tests;

/// How wide our plain-text documents are, in characters.
pub const WIDTH: usize = 100;

/// Between two columns.
const GAP: usize = 2;

/// No text column is squeezed below this.
const NARROWEST: usize = 10;

/// The table with its headings, a rule below them and one line or more a row: numbers to the right, texts to the
/// left, no line longer than `width` unless the numbers alone are wider. Texts that do not fit go on in the next
/// line of their column. Ends in a line break; line ends are LF; no line has blanks at its end.
pub fn render(table: &Table, width: usize) -> String {
    let widths = widths_of(table, width);
    let headings: Vec<_> = table.columns().iter().map(|column| column.heading).collect();
    let mut out = String::new();
    line_of(table, &widths, &headings, &mut out);
    let rules: Vec<_> = widths.iter().map(|width| "-".repeat(*width)).collect();
    push_line(&mut out, &rules.join(&" ".repeat(GAP)));
    for row in table.rows() {
        let cells: Vec<_> = row.iter().map(String::as_str).collect();
        line_of(table, &widths, &cells, &mut out);
    }
    out
}

/// A paragraph broken between words into lines of at most `width`; a longer word is cut. Line breaks and control
/// characters count as blanks: nothing in a name can steer a terminal.
pub fn wrapped(paragraph: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in paragraph.split(|sign: char| sign.is_whitespace() || sign.is_control()) {
        if word.is_empty() {
            continue;
        }
        let long = word.chars().count();
        if length > 0 && length + 1 + long > width {
            lines.push(std::mem::take(&mut line));
            length = 0;
        }
        if length > 0 {
            line.push(' ');
            length += 1;
        }
        for sign in word.chars() {
            if length == width {
                lines.push(std::mem::take(&mut line));
                length = 0;
            }
            line.push(sign);
            length += 1;
        }
    }
    if length > 0 || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// A title with a rule below it.
pub fn titled(title: &str, rule: char) -> String {
    let lines = wrapped(title, WIDTH);
    let longest = lines.iter().map(|line| line.chars().count()).max().unwrap_or_default();
    let mut out = String::new();
    for line in lines {
        push_line(&mut out, &line);
    }
    push_line(&mut out, &rule.to_string().repeat(longest));
    out
}

/// A paragraph of [`WIDTH`], ending in a line break; lines after the first stand in by `indent`.
pub fn paragraph(text: &str, indent: usize) -> String {
    let mut out = String::new();
    for (place, line) in wrapped(text, WIDTH.saturating_sub(indent)).into_iter().enumerate() {
        let margin = if place == 0 { 0 } else { indent };
        push_line(&mut out, &format!("{}{line}", " ".repeat(margin)));
    }
    out
}

fn push_line(out: &mut String, line: &str) {
    out.push_str(line.trim_end());
    out.push('\n');
}

/// Natural widths, then the widest text column gives way until all fit.
fn widths_of(table: &Table, width: usize) -> Vec<usize> {
    let mut widths: Vec<usize> =
        table.columns().iter().map(|column| column.heading.chars().count()).collect();
    for row in table.rows() {
        for (widest, cell) in widths.iter_mut().zip(row) {
            *widest = (*widest).max(cell.chars().count());
        }
    }
    let gaps = GAP * widths.len().saturating_sub(1);
    let mut over = (widths.iter().sum::<usize>() + gaps).saturating_sub(width);
    while over > 0 {
        let texts = widths.iter_mut().zip(table.columns()).filter(|(_, column)| column.holds == Holds::Text);
        let Some((widest, _)) =
            texts.filter(|(width, _)| **width > NARROWEST).max_by_key(|(width, _)| **width)
        else {
            break;
        };
        *widest -= 1;
        over -= 1;
    }
    widths
}

fn line_of(table: &Table, widths: &[usize], cells: &[&str], out: &mut String) {
    let columns: Vec<Vec<String>> =
        cells.iter().zip(widths).map(|(cell, width)| wrapped(cell, *width)).collect();
    let height = columns.iter().map(Vec::len).max().unwrap_or(1);
    for place in 0..height {
        let mut parts = Vec::with_capacity(columns.len());
        for ((lines, width), column) in columns.iter().zip(widths).zip(table.columns()) {
            let part = lines.get(place).map_or("", String::as_str);
            let blank = " ".repeat(width.saturating_sub(part.chars().count()));
            parts.push(match column.holds {
                Holds::Text => format!("{part}{blank}"),
                Holds::Numbers => format!("{blank}{part}"),
            });
        }
        push_line(out, &parts.join(&" ".repeat(GAP)));
    }
}
