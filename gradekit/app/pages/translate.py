"""Formulas as JavaScript: the same statements that are compiled to numpy, written for a page.

Nothing is typed a second time: what a page computes comes from the declaration of each relation.
"""

from __future__ import annotations

import ast

from gradekit.core.errors import InputError
from gradekit.core.formula import Formula

_BINARY: dict[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
_COMPARE: dict[type[ast.cmpop], str] = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
# `log10` is a function of the engine: as in numpy it has no value where there is no logarithm.
_CALLS = {
    "log10": "log10",
    "exp": "Math.exp",
    "sqrt": "Math.sqrt",
    "min": "Math.min",
    "max": "Math.max",
}


def function_text(formula: Formula) -> str:
    """Return a formula as a JavaScript function of one object that holds its inputs by name.

    Parameters
    ----------
    formula : Formula

    Returns
    -------
    str

    Raises
    ------
    InputError
        A piece of algebra that has no counterpart.

    Examples
    --------
    >>> function_text(Formula("x = Cr - 12; 2*x if x > 0 else 0*x"))
    'v=>{let $x=(v.Cr-12);return (($x>0)?(2*$x):(0*$x))}'
    """
    assigned: set[str] = set()
    lines = []
    for statement in formula.statements:
        text = _expression(statement.value, assigned)
        if isinstance(statement, ast.Assign):
            (target,) = statement.targets
            assert isinstance(target, ast.Name)
            lines.append(f"{'' if target.id in assigned else 'let '}${target.id}={text};")
            assigned.add(target.id)
        else:
            lines.append(f"return {text}")
    return f"v=>{{{''.join(lines)}}}"


def _expression(node: ast.expr, assigned: set[str]) -> str:
    def inner(child: ast.expr) -> str:
        return _expression(child, assigned)

    match node:
        case ast.Constant(value=int() | float() as number):
            return repr(number)
        case ast.Name(id=name):
            return f"${name}" if name in assigned else f"v.{name}"
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return f"(-{inner(operand)})"
        case ast.UnaryOp(op=ast.UAdd(), operand=operand):
            return inner(operand)
        case ast.BinOp(op=ast.Pow(), left=left, right=right):
            return f"Math.pow({inner(left)},{inner(right)})"
        case ast.BinOp(op=op, left=left, right=right) if type(op) in _BINARY:
            return f"({inner(left)}{_BINARY[type(op)]}{inner(right)})"
        case ast.Compare(left=left, ops=[op], comparators=[right]) if type(op) in _COMPARE:
            return f"({inner(left)}{_COMPARE[type(op)]}{inner(right)})"
        case ast.BoolOp(op=op, values=values):
            return f"({('&&' if isinstance(op, ast.And) else '||').join(map(inner, values))})"
        case ast.IfExp(test=test, body=body, orelse=other):
            return f"({inner(test)}?{inner(body)}:{inner(other)})"
        case ast.Call(func=ast.Name(id="where"), args=[test, body, other]):
            return f"({inner(test)}?{inner(body)}:{inner(other)})"
        case ast.Call(func=ast.Name(id=name), args=arguments) if name in _CALLS:
            return f"{_CALLS[name]}({','.join(map(inner, arguments))})"
    raise InputError("formula for a page", "algebra of core.formula", ast.unparse(node))
