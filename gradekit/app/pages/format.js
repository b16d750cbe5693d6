// Numbers as the library writes them: Python's format 'g', and `number` of `core/markup.py`.

const isNumber = x => x !== undefined && x !== null && !Number.isNaN(x);

// Halves go to the even digit, as they do there: JavaScript alone would take them up.
function halfEven(x, digits) {
  const [long, power] = Math.abs(x).toExponential(60).split("e"), all = long.replace(".", "");
  if (!/^50*$/.test(all.slice(digits)) || Number(all[digits - 1]) % 2) return x.toExponential(digits - 1);
  return `${x < 0 ? "-" : ""}${all[0]}.${all.slice(1, digits)}e${power}`;
}

// A number with so many significant digits, as Python's format 'g' writes it.
function general(x, digits) {
  if (x === 0) return "0";
  const [mantissa, power] = halfEven(x, digits).split("e").map(Number);
  if (power < -4 || power >= digits)
    return `${mantissa}e${power < 0 ? "-" : "+"}${String(Math.abs(power)).padStart(2, "0")}`;
  const places = Math.max(0, digits - 1 - power);
  return Number(`${mantissa}e${power}`).toFixed(places).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "");
}

// With so many significant digits, a dash where there is none.
function number(x, digits = 4) {
  if (!isNumber(x) || !Number.isFinite(x)) return "—";
  const text = Math.abs(x) >= 10 ** (digits - 1) ? wholes(x) : general(x, digits);
  return text === "-0" ? "0" : text.replaceAll("-", "−");
}
const wholes = x => Math.abs(x) >= 1e21 ? String(BigInt(x)) : (Math.abs(x % 1) === 0.5 ? 2 * Math.round(x / 2) : x).toFixed(0);
