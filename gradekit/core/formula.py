"""The small algebra in which relations are declared, compiled to numpy.

A formula is a chain of assignments and one last expression, separated by semicolons::

    creq = Cr + 1.5*Si; nieq = Ni + 30*C; creq/nieq

Names are elements (wt%), conditions, earlier assignments, or other relations, which are put in
their place before compiling. `Fe` is the balance. The same text is shown to the reader, compiled
for the machine, and taken apart for `explain`: nothing is written twice.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Mapping
from functools import cached_property, reduce

import numpy as np

from gradekit.core.aliases import Columns
from gradekit.core.errors import InputError, said


def _log10(x: np.ndarray) -> np.ndarray:
    # minus infinity could come back as a finite value, as in a/(b - log10(0)); no value cannot
    return np.log10(np.where(np.greater(x, 0), x, np.nan))


_CALLS: dict[str, Callable] = {
    "log10": _log10,
    "exp": np.exp,
    "sqrt": np.sqrt,
    "min": np.minimum,
    "max": np.maximum,
    "where": np.where,
}
_ARGUMENTS = {"log10": 1, "exp": 1, "sqrt": 1, "min": 2, "max": 2, "where": 3}
# A relation has a few hundred characters; what is far beyond was not written to be a formula.
_LONGEST, _DEEPEST, _LARGEST = 20_000, 120, 1e30
_REACH: dict[type, Callable] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_NODES = (
    ast.BinOp, ast.UnaryOp, ast.USub, ast.UAdd, ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow,
    ast.IfExp, ast.Compare, ast.Lt, ast.LtE, ast.Gt, ast.GtE, ast.Call, ast.Name, ast.Load,
    ast.Store, ast.Constant, ast.Assign, ast.Expr, ast.BoolOp, ast.And, ast.Or,
)  # fmt: skip


Statement = ast.Assign | ast.Expr


def _target(statement: ast.Assign) -> ast.Name:
    (target,) = statement.targets
    assert isinstance(target, ast.Name)  # `_parse` refuses any other
    return target


class Formula:
    """One formula: its text, the names it needs, and the array function it compiles to.

    Parameters
    ----------
    text : str
        The formula.
    relations : mapping of name to formula text, optional
        Relations that the text may name; each is put in the place of its name and sees the
        assignments made before it, so that a condition can be fixed for it.

    Examples
    --------
    >>> f = Formula("x = Cr - 12; 2*x if x > 0 else 0*x")
    >>> f.names, f(Cr=np.array([11.0, 13.0])).tolist()
    (('Cr',), [-0.0, 2.0])
    """

    def __init__(self, text: str, relations: Mapping[str, str] | None = None):
        self.text = text
        self._relations = relations or {}

    @cached_property
    def statements(self) -> list[Statement]:
        """Assignments, with those of the relations named, and the last expression."""
        return _expand(_parse(self.text), self._relations, prefix="")

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Elements and conditions that must be supplied, in order of appearance."""
        assigned: set[str] = set()
        needed: dict[str, None] = {}
        for statement in self.statements:
            for node in ast.walk(statement.value):
                if isinstance(node, ast.Name) and node.id not in _CALLS:
                    if node.id not in assigned:
                        needed.setdefault(node.id)
            if isinstance(statement, ast.Assign):
                assigned.add(_target(statement).id)
        return tuple(needed)

    @cached_property
    def _function(self) -> Callable:
        return _compile(self.statements, self.names)

    def __call__(self, **values: np.ndarray) -> np.ndarray:
        """Evaluate with arrays or scalars; every name of `names` must be given."""
        return self._function(*(values[n] for n in self.names))

    def on(self, values: Columns) -> np.ndarray:
        """Evaluate on a mapping that may hold more names than needed."""
        return self._function(*[values[n] for n in self.names])

    @cached_property
    def terms(self) -> list[tuple[str, Formula]]:
        """The terms of the last expression, as formulas that sum to the value."""
        *before, last = self.statements
        pieces: list[tuple[bool, ast.expr]] = []
        _split_sum(last.value, False, pieces)
        signed_terms = []
        for negative, node in pieces:
            signed = ast.UnaryOp(ast.USub(), node) if negative else node
            term = Formula(ast.unparse(node))
            term.statements = [*before, ast.Expr(signed)]
            signed_terms.append((ast.unparse(ast.fix_missing_locations(signed)), term))
        return signed_terms


def _parse(text: str) -> list[Statement]:
    if len(text) > _LONGEST:
        raise InputError("formula", f"at most {_LONGEST} characters", said(str(len(text))))
    try:
        parsed = ast.parse(text.replace(";", "\n").replace("\n ", "\n").strip()).body
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise InputError("formula", "algebra such as 'x = Cr - 12; 2*x'", text) from error
    _refuse_deep(parsed, text)
    statements: list[Statement] = []
    for statement in parsed:
        if not isinstance(statement, Statement):
            raise InputError("formula", "plain algebra", ast.unparse(statement))
        statements.append(statement)
        for node in ast.walk(statement):
            if not isinstance(node, _NODES):
                raise InputError("formula", "plain algebra", ast.unparse(node))
            if isinstance(node, ast.Constant) and type(node.value) not in (int, float):
                raise InputError("formula", "algebra with plain numbers", node.value)
            if isinstance(node, ast.Assign):
                if [type(t) for t in node.targets] != [ast.Name]:
                    raise InputError("formula", "one name before each '='", ast.unparse(node))
            if isinstance(node, ast.Call):
                called = node.func.id if isinstance(node.func, ast.Name) else ""
                if len(node.args) != _ARGUMENTS.get(called) or node.keywords:
                    calls = ", ".join(f"{name} of {n}" for name, n in _ARGUMENTS.items())
                    raise InputError("function in a formula", calls, ast.unparse(node))
        _fixed(statement.value)
    if not statements or not isinstance(statements[-1], ast.Expr):
        raise InputError("formula", "ended by an expression", text)
    return statements


def _refuse_deep(statements: list[ast.stmt], text: str) -> None:
    level: list[ast.AST] = list(statements)
    for _ in range(_DEEPEST):
        level = [child for node in level for child in ast.iter_child_nodes(node)]
    if level:
        raise InputError("formula", f"nested at most {_DEEPEST} deep", text)


def _fixed(node: ast.expr) -> float | None:
    """Return the value of what holds numbers only, None of the rest; refuse what is too large.

    Python would reckon it with whole numbers of any length before a heat is looked at.
    """
    parts = [_fixed(child) for child in ast.iter_child_nodes(node) if isinstance(child, ast.expr)]
    value: float
    if isinstance(node, ast.Constant):
        assert isinstance(node.value, (int, float))
        value = node.value
    elif isinstance(node, ast.UnaryOp) and None not in parts:
        value = float(parts[0] or 0.0) * (-1 if isinstance(node.op, ast.USub) else 1)
    elif isinstance(node, ast.BinOp) and None not in parts:
        try:
            value = _REACH[type(node.op)](*(float(p) for p in parts if p is not None))
        except ArithmeticError:
            raise InputError("number in a formula", "finite", ast.unparse(node)) from None
    else:
        return None
    if isinstance(value, complex) or abs(value) > _LARGEST:
        raise InputError("number in a formula", f"at most {_LARGEST:g}", ast.unparse(node))
    return float(value)


def _expand(
    statements: list[Statement], relations: Mapping[str, str], prefix: str
) -> list[Statement]:
    """Put named relations in place; their own assignments get a prefix, so none can clash."""
    out: list[Statement] = []
    local: dict[str, str] = {}
    done: set[str] = set()
    for statement in statements:
        for node in ast.walk(statement.value):
            if not isinstance(node, ast.Name):
                continue
            if node.id in local:
                node.id = local[node.id]
            elif node.id in relations and node.id not in done:
                inner = _expand(_parse(relations[node.id]), relations, f"{prefix}{node.id}__")
                inner[-1] = ast.Assign([ast.Name(node.id, ast.Store())], inner[-1].value)
                out.extend(inner)
                done.add(node.id)
        if isinstance(statement, ast.Assign):
            target = _target(statement)
            # A condition set on purpose keeps its name, so that the relations below see it.
            own = target.id if not prefix else prefix + target.id
            local[target.id] = own
            target.id = own
        out.append(statement)
    return out


def _compile(statements: list[Statement], names: tuple[str, ...]) -> Callable:
    *before, last = [_Vectorise().visit(_copy(s)) for s in statements]
    arguments = ast.arguments(
        posonlyargs=[], args=[ast.arg(n) for n in names], kwonlyargs=[], kw_defaults=[], defaults=[]
    )
    body = [*before, ast.Return(last.value)]
    function = ast.FunctionDef("value", arguments, body, [])
    function.__dict__["type_params"] = []  # asked for from Python 3.12 on
    module = ast.fix_missing_locations(ast.Module([function], []))
    space: dict = dict(_CALLS)
    exec(compile(module, "<formula>", "exec"), space)
    return space["value"]


def _copy(statement: ast.stmt) -> ast.stmt:
    return ast.parse(ast.unparse(ast.fix_missing_locations(statement))).body[0]


class _Vectorise(ast.NodeTransformer):
    """Turn `a if test else b`, `and` and `or` into choices made element by element."""

    def visit_IfExp(self, node: ast.IfExp) -> ast.AST:
        self.generic_visit(node)
        return ast.Call(ast.Name("where", ast.Load()), [node.test, node.body, node.orelse], [])

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        self.generic_visit(node)
        call = ast.Name("min" if isinstance(node.op, ast.And) else "max", ast.Load())
        return reduce(lambda a, b: ast.Call(call, [a, b], []), node.values)


def _split_sum(node: ast.expr, negative: bool, out: list[tuple[bool, ast.expr]]) -> None:
    if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Sub)):
        _split_sum(node.left, negative, out)
        _split_sum(node.right, negative ^ isinstance(node.op, ast.Sub), out)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        _split_sum(node.operand, not negative, out)
    else:
        out.append((negative, node))
