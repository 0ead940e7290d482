// What a person chose for this browser: name, unit, whether single keys act. Lost when the browser forgets it, and nothing hangs on that.

const read = (name) => {
  try {
    return localStorage.getItem(`ruboff ${name}`);
  } catch {
    return null;
  }
};

const write = (name, value) => {
  try {
    localStorage.setItem(`ruboff ${name}`, value);
  } catch {
    // Private windows may refuse; the choice then holds until the page is closed.
  }
};

export const own = { by: read("by") ?? "", inches: read("unit") === "inches", keys: read("keys") !== "off" };

export const keep = (changes) => {
  Object.assign(own, changes);
  write("by", own.by);
  write("unit", own.inches ? "inches" : "mm");
  write("keys", own.keys ? "on" : "off");
};
