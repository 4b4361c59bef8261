// The two script addresses that the page loads by itself. The content policy
// lets no other be loaded from code.

const OURS = ['worker.js', 'vendor/uPlot.iife.min.js'];
let policy = null;

export function trusted(url) {
  if (!window.trustedTypes) return url;
  policy ||= window.trustedTypes.createPolicy('leavend', { createScriptURL: (u) => (OURS.includes(u) ? u : '') });
  return policy.createScriptURL(url);
}
