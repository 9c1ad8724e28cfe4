//! The press: sets a sheet in type and makes a PDF of it, with fonts and templates from the binary alone.
//!
//! Texts reach the templates as data, so none of them is ever read as markup. There is no file system, no network and
//! no clock: the same sheet gives the same bytes. What a sheet says is not decided here.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;

/// Which layout a sheet takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Template {
    /// Title, blocks one under another, page numbers.
    Sheet,
    /// A grid of labels to cut out.
    Labels,
}

impl Template {
    const fn source(self) -> &'static str {
        match self {
            Self::Sheet => include_str!("../../templates/sheets/sheet.typ"),
            Self::Labels => include_str!("../../templates/sheets/labels.typ"),
        }
    }
}

/// A sheet could not be printed: a fault of ours, never of who asked.
#[derive(Debug, thiserror::Error)]
#[error("the sheet cannot be set: {0}")]
pub struct PressFault(String);

/// What never changes from sheet to sheet.
struct Cases {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    /// Names of the two files that there are.
    template: FileId,
    sheet: FileId,
}

static CASES: LazyLock<Result<Cases, PressFault>> = LazyLock::new(|| {
    let fonts: Vec<Font> = typst_assets::fonts().flat_map(|bytes| Font::iter(Bytes::new(bytes))).collect();
    Ok(Cases {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
        template: named("template.typ")?,
        sheet: named("sheet.json")?,
    })
});

fn named(name: &str) -> Result<FileId, PressFault> {
    let path = VirtualPath::new(name).map_err(|error| PressFault(format!("{name}: {error:?}")))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

/// One sheet in the press.
struct Press {
    cases: &'static Cases,
    template: Source,
    sheet: Bytes,
}

impl World for Press {
    fn library(&self) -> &LazyHash<Library> {
        &self.cases.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.cases.book
    }

    fn main(&self) -> FileId {
        self.cases.template
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.cases.template { Ok(self.template.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.cases.sheet { Ok(self.sheet.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.cases.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

/// Prints a sheet: the template laid over its data, as the bytes of a PDF.
///
/// Takes tens of milliseconds to seconds of one core: never call it on a thread that serves others.
///
/// # Errors
/// A template that does not fit the data.
pub fn print(template: Template, sheet: &impl serde::Serialize) -> Result<Vec<u8>, PressFault> {
    let cases = CASES.as_ref().map_err(|fault| PressFault(fault.0.clone()))?;
    let sheet = serde_json::to_vec(sheet).map_err(|error| PressFault(error.to_string()))?;
    let press = Press {
        cases,
        template: Source::new(cases.template, template.source().to_owned()),
        sheet: Bytes::new(sheet),
    };
    let set = typst::compile::<PagedDocument>(&press);
    let document = set.output.map_err(|faults| PressFault(told(&faults)))?;
    let options = PdfOptions { creator: typst::foundations::Smart::Custom(None), ..PdfOptions::default() };
    let pdf = typst_pdf::pdf(&document, &options).map_err(|faults| PressFault(told(&faults)));
    // What was worked out for this sheet is of no use to the next one.
    comemo::evict(0);
    pdf
}

fn told(faults: &[typst::diag::SourceDiagnostic]) -> String {
    faults.iter().map(|fault| fault.message.as_str()).collect::<Vec<_>>().join("; ")
}
