//! Results as Parquet: row groups of a fixed size, so that the file depends on the rows alone and
//! never on the pieces they came in.

use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, Type as Kind};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;

use super::write::Cells;

/// Rows of a group: what is held in memory at most.
const ROWS: usize = 65_536;

/// Columns in their order, with the kind of each and whether every row has a value; the units.
const COLUMNS: [(&str, Kind, bool, &str); 10] = [
    ("id", Kind::BYTE_ARRAY, true, ""),
    ("verdict", Kind::BYTE_ARRAY, true, ""),
    ("firm", Kind::BOOLEAN, true, ""),
    ("possible", Kind::BYTE_ARRAY, false, ""),
    ("cost_low", Kind::INT64, false, "US dollars"),
    ("cost_high", Kind::INT64, false, "US dollars"),
    ("next", Kind::BYTE_ARRAY, false, ""),
    ("minutes", Kind::DOUBLE, false, "minutes"),
    ("lat", Kind::DOUBLE, false, "degrees"),
    ("lon", Kind::DOUBLE, false, "degrees"),
];

/// A Parquet file as it grows. What it gives is to be written as it comes.
pub struct Table {
    file: SerializedFileWriter<Vec<u8>>,
    held: Held,
}

/// Values of the group at hand, a list a column. A list of those that may be missing has what is
/// there, and beside it a 1 or a 0 for each row.
#[derive(Default)]
struct Held {
    rows: usize,
    id: Vec<ByteArray>,
    verdict: Vec<ByteArray>,
    firm: Vec<bool>,
    possible: Perhaps<ByteArray>,
    low: Perhaps<i64>,
    high: Perhaps<i64>,
    next: Perhaps<ByteArray>,
    minutes: Perhaps<f64>,
    lat: Perhaps<f64>,
    lon: Perhaps<f64>,
}

struct Perhaps<T> {
    there: Vec<T>,
    levels: Vec<i16>,
}

impl<T> Default for Perhaps<T> {
    fn default() -> Self {
        Perhaps {
            there: Vec::new(),
            levels: Vec::new(),
        }
    }
}

impl<T> Perhaps<T> {
    fn push(&mut self, value: Option<T>) {
        self.levels.push(i16::from(value.is_some()));
        self.there.extend(value);
    }
}

impl Table {
    /// A table without rows. `made_with` stands in its metadata, and so do the units.
    ///
    /// # Errors
    /// None that can be foreseen: the columns are fixed.
    pub fn new(made_with: &str) -> Result<Table> {
        let column = |(name, kind, always, _): (&str, Kind, bool, &str)| {
            let repeats = match always {
                true => Repetition::REQUIRED,
                false => Repetition::OPTIONAL,
            };
            let text = (kind == Kind::BYTE_ARRAY).then_some(LogicalType::String);
            let column = Type::primitive_type_builder(name, kind)
                .with_repetition(repeats)
                .with_logical_type(text);
            Ok(Arc::new(column.build()?))
        };
        let columns = COLUMNS.into_iter().map(column).collect::<Result<_>>()?;
        let schema = Type::group_type_builder("result").with_fields(columns);
        let mut about = vec![KeyValue::new("made_with".to_owned(), made_with.to_owned())];
        for (name, .., unit) in COLUMNS.iter().filter(|c| !c.3.is_empty()) {
            about.push(KeyValue::new(format!("unit_of_{name}"), (*unit).to_owned()));
        }
        let properties = WriterProperties::builder()
            .set_created_by(env!("CARGO_PKG_NAME").to_owned())
            .set_compression(Compression::UNCOMPRESSED)
            .set_statistics_enabled(EnabledStatistics::Chunk)
            .set_offset_index_disabled(true)
            .set_key_value_metadata(Some(about))
            .build();
        Ok(Table {
            file: SerializedFileWriter::new(
                Vec::new(),
                Arc::new(schema.build()?),
                Arc::new(properties),
            )?,
            held: Held::default(),
        })
    }

    /// Takes results as [`super::write::Line`] writes them, and gives what is ready to be written.
    ///
    /// # Errors
    /// Where `rows` holds something else.
    pub fn add(&mut self, mut rows: &[u8]) -> Result<Vec<u8>> {
        while !rows.is_empty() {
            let (cells, rest) = postcard::take_from_bytes::<Cells>(rows)
                .map_err(|e| ParquetError::External(Box::new(e)))?;
            self.held.push(&cells);
            rows = rest;
            if self.held.rows == ROWS {
                self.group()?;
            }
        }
        self.ready()
    }

    /// Gives the rest: the last rows, and the foot without which nothing before it can be read.
    ///
    /// # Errors
    /// None that can be foreseen: memory is written to.
    pub fn end(&mut self) -> Result<Vec<u8>> {
        if self.held.rows > 0 {
            self.group()?;
        }
        self.file.finish()?;
        self.ready()
    }

    fn ready(&mut self) -> Result<Vec<u8>> {
        self.file.flush()?;
        Ok(std::mem::take(self.file.inner_mut()))
    }

    /// Writes the rows at hand as a group.
    fn group(&mut self) -> Result<()> {
        let held = std::mem::take(&mut self.held);
        let mut group = self.file.next_row_group()?;
        put::<ByteArrayType>(&mut group, &held.id, None)?;
        put::<ByteArrayType>(&mut group, &held.verdict, None)?;
        put::<BoolType>(&mut group, &held.firm, None)?;
        put_some::<ByteArrayType>(&mut group, &held.possible)?;
        put_some::<Int64Type>(&mut group, &held.low)?;
        put_some::<Int64Type>(&mut group, &held.high)?;
        put_some::<ByteArrayType>(&mut group, &held.next)?;
        put_some::<DoubleType>(&mut group, &held.minutes)?;
        put_some::<DoubleType>(&mut group, &held.lat)?;
        put_some::<DoubleType>(&mut group, &held.lon)?;
        group.close()?;
        Ok(())
    }
}

impl Held {
    fn push(&mut self, cells: &Cells<'_>) {
        // Beyond any cost that a slab can have.
        let whole = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        let text = |text: &str| (!text.is_empty()).then(|| ByteArray::from(text));
        self.rows += 1;
        self.id.push(ByteArray::from(cells.id.as_ref()));
        self.verdict.push(ByteArray::from(cells.verdict));
        self.firm.push(cells.firm);
        self.possible.push(text(cells.possible));
        self.low.push(cells.cost.map(|c| whole(c.0)));
        self.high.push(cells.cost.map(|c| whole(c.1)));
        self.next.push(text(cells.next));
        self.minutes.push(cells.minutes);
        self.lat.push(cells.at.map(|at| at.0));
        self.lon.push(cells.at.map(|at| at.1));
    }
}

type Group<'a> = SerializedRowGroupWriter<'a, Vec<u8>>;

fn put_some<T: DataType>(group: &mut Group<'_>, column: &Perhaps<T::T>) -> Result<()> {
    put::<T>(group, &column.there, Some(&column.levels))
}

/// Writes the next column.
fn put<T: DataType>(group: &mut Group<'_>, there: &[T::T], levels: Option<&[i16]>) -> Result<()> {
    let column = group.next_column()?;
    let mut column = column.ok_or_else(|| ParquetError::General("no such column".to_owned()))?;
    column.typed::<T>().write_batch(there, levels, None)?;
    column.close()
}

#[cfg(test)]
mod tests {
    use super::*;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::{Field, Row};

    #[test]
    fn what_is_missing_is_null_and_what_is_cut_short_is_an_error() {
        let bare = |id: &'static str| Cells {
            id: id.into(),
            verdict: "leave",
            firm: true,
            possible: "",
            cost: None,
            next: "",
            minutes: None,
            at: None,
        };
        let full = Cells {
            firm: false,
            possible: "leave|patch",
            cost: Some((0, 1200)),
            next: "offset",
            minutes: Some(2.5),
            at: Some((43.07, -89.4)),
            ..bare("P-1")
        };
        let bytes = |cells: &Cells<'_>| postcard::to_allocvec(cells).unwrap();
        let (full, bare) = (bytes(&full), bytes(&bare("P-2")));
        let mut table = Table::new("here").unwrap();
        let mut file = table.add(&[full.as_slice(), &bare].concat()).unwrap();
        file.extend(table.end().unwrap());
        let mut kept = tempfile::tempfile().unwrap();
        std::io::Write::write_all(&mut kept, &file).unwrap();
        let file = SerializedFileReader::new(kept).unwrap();
        let rows: Vec<_> = file.get_row_iter(None).unwrap().flatten().collect();
        assert_eq!(rows.len(), 2);
        let fields = |row: &Row| {
            row.get_column_iter()
                .map(|c| c.1.clone())
                .collect::<Vec<_>>()
        };
        let text = |text: &str| Field::Str(text.to_owned());
        assert_eq!(
            fields(&rows[0]),
            [
                text("P-1"),
                text("leave"),
                Field::Bool(false),
                text("leave|patch"),
                Field::Long(0),
                Field::Long(1200),
                text("offset"),
                Field::Double(2.5),
                Field::Double(43.07),
                Field::Double(-89.4),
            ]
        );
        let mut wanted = vec![text("P-2"), text("leave"), Field::Bool(true)];
        wanted.resize(COLUMNS.len(), Field::Null);
        assert_eq!(fields(&rows[1]), wanted);
        let mut table = Table::new("here").unwrap();
        assert!(table.add(&full[..full.len() - 1]).is_err());
    }
}
