//! A camera's notes (Exif): of all they say, a receipt needs which way up it is and when it was photographed.

use std::io::Cursor;

use chrono::{Datelike, NaiveDateTime};
use exif::experimental::Writer;
use exif::{Exif, Field, In, Reader, Tag, Value};

/// Times as Exif writes them. The offset from UTC is not kept: it tells roughly where somebody was.
const TIMES: [Tag; 3] = [Tag::DateTime, Tag::DateTimeOriginal, Tag::DateTimeDigitized];

/// The notes written anew with nothing but the orientation and the times; None where they say neither.
/// # Source
/// Exif 2.32 (CIPA DC-008), 4.6.4 (Orientation, DateTime) and 4.6.5 (DateTimeOriginal, DateTimeDigitized).
pub fn kept(notes: &[u8]) -> Option<Vec<u8>> {
    let read = Reader::new().continue_on_error(true).read_raw(notes.to_vec());
    let read = read.or_else(|error| error.distill_partial_result(|_| {})).ok()?;
    let times = TIMES.into_iter().filter_map(|tag| time(&read, tag));
    let fields: Vec<Field> = orientation(&read).into_iter().chain(times).collect();
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut into = Cursor::new(Vec::new());
    writer.write(&mut into, false).ok().filter(|()| !fields.is_empty())?;
    Some(into.into_inner())
}

fn orientation(read: &Exif) -> Option<Field> {
    let field = read.get_field(Tag::Orientation, In::PRIMARY)?;
    let turned = field.value.get_uint(0).filter(|turned| (1..=8).contains(turned))?;
    let value = Value::Short(vec![u16::try_from(turned).ok()?]);
    Some(Field { tag: Tag::Orientation, ifd_num: In::PRIMARY, value })
}

/// A time, if it is one to the letter: free text there would be kept as well.
fn time(read: &Exif, tag: Tag) -> Option<Field> {
    const FORM: &str = "%Y:%m:%d %H:%M:%S";
    let Value::Ascii(lines) = &read.get_field(tag, In::PRIMARY)?.value else { return None };
    let text = std::str::from_utf8(lines.first()?).ok()?;
    let time = NaiveDateTime::parse_from_str(text, FORM).ok()?;
    let plausible = (1900..2200).contains(&time.year()) && time.format(FORM).to_string() == text;
    let value = Value::Ascii(vec![text.as_bytes().to_vec()]);
    plausible.then_some(Field { tag, ifd_num: In::PRIMARY, value })
}
