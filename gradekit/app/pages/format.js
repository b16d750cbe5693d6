// Numbers as the library writes them: Python's format 'g', and `number` of `core/markup.py`.

const isNumber = x => x !== undefined && x !== null && !Number.isNaN(x);

// A number with so many significant digits, as Python's format 'g' writes it.
function general(x, digits) {
  if (x === 0) return "0";
  const [mantissa, power] = x.toExponential(digits - 1).split("e").map(Number);
  if (power < -4 || power >= digits)
    return `${mantissa}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  return x.toFixed(Math.max(0, digits - 1 - power)).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "");
}

// With so many significant digits, a dash where there is none.
function number(x, digits = 4) {
  if (!isNumber(x) || !Number.isFinite(x)) return "—";
  const text = Math.abs(x) >= 10 ** (digits - 1) ? x.toFixed(0) : general(x, digits);
  return text === "-0" ? "0" : text.replaceAll("-", "−");
}
