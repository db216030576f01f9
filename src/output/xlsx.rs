//! Tables as XLSX.

use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};

use super::About;
use super::number::written;
use crate::drawing::paint_of_code;
use crate::lettering;
use crate::scene::Paint;
use crate::schedules::{Cell, Table};
use crate::source::small;

/// No column is wider, in letters; longer texts go on in further lines of their cell.
const WIDEST: usize = 60;

/// The paper number of A4.
const A4: u8 = 9;

/// The column whose cells are swatched.
const SWATCHED: &str = "colour_code";

/// Tables as the sheets of one workbook, each with its name: a frozen row of column names that is printed on every page,
/// A4 on its side, one page wide. Words are always text, whatever they begin with.
///
/// # Errors
/// If a table has more rows, or a cell more letters, than XLSX can hold.
pub fn xlsx(tables: &[(&str, &Table)], about: &About) -> Result<Vec<u8>, String> {
    let mut book = Workbook::new();
    book.set_properties(&properties(about));
    for (name, table) in tables {
        let sheet = book.add_worksheet();
        filled(sheet, name, table, about)
            .map_err(|why| format!("the table does not fit into XLSX: {why}"))?;
    }
    book.save_to_buffer().map_err(|why| format!("the XLSX cannot be made: {why}"))
}

fn properties(about: &About) -> DocProperties {
    let (year, month, day) = about.date;
    let mut properties =
        DocProperties::new().set_title(about.title.as_str()).set_author(about.author.as_str());
    if let Ok(date) = ExcelDateTime::from_ymd(year, month, day) {
        properties = properties.set_creation_datetime(&date);
    }
    properties
}

fn filled(sheet: &mut Worksheet, name: &str, table: &Table, about: &About) -> Result<(), XlsxError> {
    let lined = Format::new().set_border(FormatBorder::Hair).set_align(FormatAlign::Top).set_text_wrap();
    let head = lined.clone().set_bold().set_background_color(Color::RGB(0x00E4_E4E4));
    sheet.set_name(name)?;
    for (at, column) in (0_u16..).zip(table.columns) {
        sheet.write_string_with_format(0, at, column.name, &head)?;
        let widest = table.rows.iter().filter_map(|row| row.get(usize::from(at))).map(letters).max();
        let letters = widest.unwrap_or(0).max(column.name.chars().count()).min(WIDEST);
        sheet.set_column_width(at, f64::from(small(letters)) + 2.0)?;
    }
    for (line, row) in (1_u32..).zip(&table.rows) {
        for ((at, column), cell) in (0_u16..).zip(table.columns).zip(row) {
            match cell {
                Cell::Text(text) if column.name == SWATCHED => {
                    let format = paint_of_code(text).map_or(lined.clone(), |paint| swatch(&lined, paint));
                    sheet.write_string_with_format(line, at, text, &format)?;
                }
                Cell::Text(text) => {
                    sheet.write_string_with_format(line, at, lettering::printable(text), &lined)?;
                }
                Cell::Number(value) => {
                    // The same figure as in the other formats.
                    let value = written(*value).parse().unwrap_or(*value);
                    sheet.write_number_with_format(line, at, value, &lined)?;
                }
                Cell::Blank => {
                    sheet.write_blank(line, at, &lined)?;
                }
            }
        }
    }
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_repeat_rows(0, 0)?;
    sheet.set_landscape();
    sheet.set_paper_size(A4);
    sheet.set_print_fit_to_pages(1, 0);
    // An ampersand begins a code in a header.
    let title = about.title.replace('&', "&&");
    let title: String = title.chars().take(120).collect();
    sheet.set_header(format!("&L{title}"));
    sheet.set_footer("&LChecked by Bellwire; no substitute for test.&RPage &P of &N");
    Ok(())
}

/// How many letters a cell takes.
fn letters(cell: &Cell) -> usize {
    match cell {
        Cell::Text(text) => text.chars().count(),
        Cell::Number(value) => written(*value).len(),
        Cell::Blank => 0,
    }
}

/// A cell in the colour of the core, its letters in black or white, whichever can be read.
fn swatch(lined: &Format, Paint(r, g, b): Paint) -> Format {
    let shade = |r: u8, g: u8, b: u8| Color::RGB(u32::from(r) << 16 | u32::from(g) << 8 | u32::from(b));
    let bright = 299 * u32::from(r) + 587 * u32::from(g) + 114 * u32::from(b);
    let letters = if bright > 140_000 { shade(0, 0, 0) } else { shade(255, 255, 255) };
    lined.clone().set_background_color(shade(r, g, b)).set_font_color(letters).set_bold()
}
