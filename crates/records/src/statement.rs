//! Runs one statement on either driver and reads its rows.

use sqlx::query::Query;
use sqlx::{AssertSqlSafe, ColumnIndex, Database, Decode, Encode, Row as _, Type, TypeInfo, ValueRef};

use crate::error::{Error, Result};
use crate::value::{Kind, Row, Value};

/// Binds `values` in order.
pub(crate) fn bind<DB>(sql: String, values: Vec<Value>) -> Query<'static, DB, DB::Arguments>
where
    DB: Database,
    String: Encode<'static, DB> + Type<DB>,
    i64: Encode<'static, DB> + Type<DB>,
    f64: Encode<'static, DB> + Type<DB>,
    Option<String>: Encode<'static, DB> + Type<DB>,
    Option<i64>: Encode<'static, DB> + Type<DB>,
    Option<f64>: Encode<'static, DB> + Type<DB>,
{
    // Statements are written in this crate; what callers give is bound.
    values.into_iter().fold(sqlx::query(AssertSqlSafe(sql)), |query, value| match value {
        Value::Null(Kind::Text) => query.bind(None::<String>),
        Value::Null(Kind::Int) => query.bind(None::<i64>),
        Value::Null(Kind::Real) => query.bind(None::<f64>),
        Value::Int(number) => query.bind(number),
        Value::Real(number) => query.bind(number),
        Value::Text(text) => query.bind(text),
    })
}

/// Reads a driver's row by the types of its columns.
pub(crate) fn read<DB>(row: &DB::Row) -> Result<Row>
where
    DB: Database,
    usize: ColumnIndex<DB::Row>,
    String: for<'r> Decode<'r, DB> + Type<DB>,
    i64: for<'r> Decode<'r, DB> + Type<DB>,
    i32: for<'r> Decode<'r, DB> + Type<DB>,
    f64: for<'r> Decode<'r, DB> + Type<DB>,
{
    let column = |index: usize| -> Result<Value> {
        let raw = row.try_get_raw(index)?;
        let (null, kind) = (raw.is_null(), raw.type_info().name().to_owned());
        Ok(match kind.as_str() {
            _ if null => Value::Null(Kind::Text),
            "TEXT" | "VARCHAR" | "NAME" => Value::Text(row.try_get(index)?),
            "INTEGER" | "INT8" | "BIGINT" => Value::Int(row.try_get(index)?),
            "INT4" => Value::Int(i64::from(row.try_get::<i32, _>(index)?)),
            "REAL" | "FLOAT8" => Value::Real(row.try_get(index)?),
            // A statement without a result, as `pg_notify` gives.
            "VOID" => Value::Null(Kind::Text),
            other => return Err(Error::corrupt(format!("a column of type {other}"))),
        })
    };
    Ok(Row::new((0..row.len()).map(column).collect::<Result<_>>()?))
}
