import { answerCalls } from '../../worker/answer-calls.ts';
import { createEncoding } from './encoding.ts';

answerCalls(createEncoding);
