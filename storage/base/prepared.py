"""Statements of an answer: put together once, then run by the database's driver itself.

Only what is run while an answer is taken, graded, replied to and noted as sent belongs here: somebody waits for it, and
on an evening a whole school answers at once. What plans, nudges, shows a teacher something or cleans up is plain Core.
tests/endtoend/test_one_answer.py holds this.

SQLAlchemy spells the SQL and converts the values, as everywhere. Left out is what its Core does anew every time a
statement is run, which takes up to ten times as long as the driver. Whoever listens to ``before_cursor_execute``
hears of each, errors of the driver come as `sqlalchemy.exc.DBAPIError`, and the transaction is the session's.

The ORM is passed by: what it holds is flushed first; rows that it has loaded are not brought along.
"""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy.engine.interfaces import Dialect
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

Convert = Callable[[Any], Any]
NOTHING: Mapping[str, Any] = {}


class PreparedStatement:
    """A statement that is put together at its first use on each kind of database.

    Parameters
    ----------
    statement : sqlalchemy.Executable
        A SELECT, or an INSERT, UPDATE or DELETE with or without RETURNING.
    columns : sequence of str
        Which columns an INSERT is given; the others get their default values.
    """

    def __init__(self, statement: Any, columns: Sequence[str] | None = None) -> None:
        self._statement = statement
        self._columns = None if columns is None else list(columns)
        self._forms: dict[tuple[str, tuple[tuple[str, int], ...]], _Form] = {}

    def rows(self, session: Session, values: Mapping[str, Any] = NOTHING) -> list[Any]:
        """Run it and return its rows, as named tuples.

        Parameters
        ----------
        session : Session
            The transaction.
        values : mapping of str
            The value of each ``bindparam``, of each column; a list for one that is expanding.
        """
        form, cursor = self._run(session, values)
        return form.rows(cursor, cursor.fetchall())

    def first(self, session: Session, values: Mapping[str, Any] = NOTHING) -> Any | None:
        """Run it and return its first row, or None."""
        form, cursor = self._run(session, values)
        found = cursor.fetchone()
        one = None if found is None else form.rows(cursor, [found])[0]
        cursor.close()
        return one

    def run(self, session: Session, values: Mapping[str, Any] = NOTHING) -> int:
        """Run it and return how many rows it changed."""
        changed: int = self._run(session, values)[1].rowcount
        return changed

    def run_all(self, session: Session, rows: Sequence[Mapping[str, Any]]) -> None:
        """Run it once for each of several sets of values, which have no lists."""
        session.flush()
        connection = session.connection()
        form = self._form(connection.dialect, rows[0])
        _execute(connection, form.text, [form.parameters(values) for values in rows], many=True)

    def _run(self, session: Session, values: Mapping[str, Any]) -> tuple[_Form, Any]:
        session.flush()
        connection = session.connection()
        form = self._form(connection.dialect, values)
        return form, _execute(connection, form.text, form.parameters(values), many=False)

    def _form(self, dialect: Dialect, values: Mapping[str, Any]) -> _Form:
        lengths = tuple((name, len(value)) for name, value in values.items() if type(value) is list)
        form = self._forms.get((dialect.name, lengths))
        if form is None:
            form = _Form(self._statement, self._columns, dialect, values)
            self._forms[dialect.name, lengths] = form
        return form


class _Slot(NamedTuple):
    """Where a parameter of the driver comes from: a value, an element of a list, or always the same."""

    name: str = ""
    place: int | None = None
    convert: Convert | None = None
    constant: Any = None


class _Form:
    """A statement as one kind of database reads it, with lists of certain lengths."""

    def __init__(
        self, statement: Any, columns: list[str] | None, dialect: Dialect, values: Mapping[str, Any]
    ) -> None:
        compiled = statement.compile(dialect=dialect, column_keys=columns)
        given = compiled.construct_params(dict(values)) | _defaults(compiled)
        state = compiled.construct_expanded_state(given)
        self.text: str = state.statement
        wrong = [name for name in state.parameter_expansion if type(values.get(name, [])) is not list]
        if wrong:
            raise TypeError(
                f"A statement is prepared for lists of a certain length: pass {', '.join(wrong)} as list."
            )
        lists = {
            element: (name, place)
            for name, elements in state.parameter_expansion.items()
            for place, element in enumerate(elements)
        }

        def slot(parameter: str) -> _Slot:
            name, place = lists.get(parameter, (parameter, None))
            convert = compiled.binds[name].type.dialect_impl(dialect).bind_processor(dialect)
            if name in values:
                return _Slot(name, place, convert)
            constant = state.parameters[parameter]
            return _Slot(constant=constant if convert is None else convert(constant))

        names = state.positiontup if compiled.positional else list(state.parameters)
        self._names = None if compiled.positional else names
        self._slots = [slot(name) for name in names]
        self._columns = (
            list(statement.exported_columns) if statement.is_select or statement._returning else []
        )
        self._dialect = dialect
        self._converts: list[tuple[int, Convert]] | None = None
        row: Any = namedtuple("Row", [column.key for column in self._columns], rename=True)  # type: ignore[misc]
        self._row = row._make

    def parameters(self, values: Mapping[str, Any]) -> Any:
        """Return what the driver is given."""
        given = []
        for name, place, convert, constant in self._slots:
            if not name:
                given.append(constant)
                continue
            value = values[name] if place is None else values[name][place]
            given.append(value if convert is None else convert(value))
        return tuple(given) if self._names is None else dict(zip(self._names, given, strict=True))

    def rows(self, cursor: Any, found: Sequence[Sequence[Any]]) -> list[Any]:
        """Return what the driver has found, its values converted."""
        if self._converts is None:  # which conversion it takes depends on what the driver returns
            self._converts = self._reading(cursor)
        rows = []
        for one in found:
            values = list(one)
            for place, convert in self._converts:
                values[place] = convert(values[place])
            rows.append(self._row(values))
        return rows

    def _reading(self, cursor: Any) -> list[tuple[int, Convert]]:
        dialect = self._dialect
        converts = [
            column.type.dialect_impl(dialect).result_processor(dialect, described[1])
            for column, described in zip(self._columns, cursor.description, strict=True)
        ]
        return [(place, convert) for place, convert in enumerate(converts) if convert is not None]


def _defaults(compiled: Any) -> dict[str, Any]:
    """Return the values of columns that an INSERT is not given and the database does not fill by itself."""
    missing = [*compiled.insert_prefetch, *compiled.update_prefetch]
    calculated = [column.name for column in missing if not column.default.is_scalar]
    if calculated:
        raise TypeError(f"Only fixed default values can be prepared, not those of {', '.join(calculated)}.")
    return {column.key: column.default.arg for column in missing}


def _execute(connection: sa.Connection, text: str, parameters: Any, *, many: bool) -> Any:
    cursor: Any = connection.connection.cursor()
    connection.dispatch.before_cursor_execute(connection, cursor, text, parameters, None, many)
    try:
        if many:
            cursor.executemany(text, parameters)
        else:
            cursor.execute(text, parameters)
    except connection.dialect.loaded_dbapi.Error as problem:
        raise DBAPIError.instance(
            text, None, problem, connection.dialect.loaded_dbapi.Error, dialect=connection.dialect
        ) from problem
    return cursor
