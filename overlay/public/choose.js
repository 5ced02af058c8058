/**
 * At the bare address the page is in the competition's language. Where the competition lets spectators choose, this
 * script, which runs before all others, goes on to the page in the browser's language, or in the one that was chosen
 * here before. Below its own address a language stays.
 */

(() => {
  const { languages = "" } = document.documentElement.dataset;
  const offered = languages.split(" ").filter(Boolean);
  const { pathname, search, hash } = location;
  if (!offered.length) return;
  let kept = null;
  try {
    const own = pathname.split("/").at(-2);
    if (own !== "public" && offered.includes(own ?? "")) return localStorage.setItem("tallywire.language", own ?? "");
    kept = localStorage.getItem("tallywire.language");
  } catch {
    // A browser that keeps nothing is asked each time.
  }
  const wanted = [new URLSearchParams(search).get("lang") ?? "", kept ?? "", ...navigator.languages].map((each) => each.split("-")[0]);
  const language = wanted.find((each) => offered.includes(each));
  if (language && language !== document.documentElement.lang) location.replace(`${language}/${search}${hash}`);
})();
